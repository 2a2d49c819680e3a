/** What advice noticed that a person should know. */
import { finding } from '../catalogue.ts';
import { signedMs } from '../checks/names.ts';
import { grouped } from '../grouped.ts';
import type { Machine } from '../machine/machine.ts';
import type { Advice, Finding } from '../results.ts';

/**
 * Groups that no allowed setting brings within tolerance and what stands in the way, and adjusters that the takes show
 * to do something else than the machine file says; channels whose pins scatter by more than shims can mend.
 */
export function adviceFindings(machine: Machine, advice: Advice): Finding[] {
  const outOfReach = (advice.obstacles ?? []).map(({ channel, sector, message }) =>
    finding('out-of-reach', message, { channel, sector }),
  );
  return [...outOfReach, ...contradictions(machine, advice), ...scatter(advice)];
}

function contradictions(machine: Machine, advice: Advice): Finding[] {
  return (advice.effects ?? []).flatMap(({ adjuster, msPerUnit, sdMs, geometryMsPerUnit, verdict }) => {
    if (verdict === undefined) return [];
    const unit = machine.description.adjusters.find(({ id }) => id === adjuster)?.unit ?? 'unit';
    const seen = `${signedMs(msPerUnit ?? 0)} ms a ${unit} (± ${((sdMs ?? 0) * 2).toFixed(2)})`;
    const said = `the machine file makes it ${signedMs(geometryMsPerUnit ?? 0)} ms`;
    return verdict === 'wrong-way'
      ? [finding('wrong-way-effect', `the takes show ${adjuster} to do ${seen}, and ${said}`, { adjuster })]
      : [
          finding('no-effect', `changing ${adjuster} did next to nothing, ${seen}, and ${said}`, {
            adjuster,
          }),
        ];
  });
}

/** One finding a channel, at its worst sector. */
function scatter({ scattered = [] }: Advice): Finding[] {
  return [...grouped(scattered, ({ channel }) => channel)].map(([channel, groups]) => {
    const worst = groups.reduce((a, b) => (b.pinSdMs > a.pinSdMs ? b : a));
    const others = groups.length > 1 ? ` and ${groups.length - 1} more` : '';
    const message =
      `pins of ${channel} scatter by ${worst.pinSdMs.toFixed(1)} ms (standard deviation) in sector ` +
      `${worst.sector}${others}: more than its tolerance of ${worst.toleranceMs} ms, and more than what is left for shims to mend`;
    return finding('pin-scatter', message, { channel, sector: worst.sector });
  });
}
