/** What advice noticed that a person should know. */
import { finding } from '../catalogue.ts';
import type { Machine } from '../machine/machine.ts';
import type { Advice, Finding } from '../results.ts';

/**
 * Groups that no allowed setting brings within tolerance and what stands in the way, and adjusters that the takes show
 * to do something else than the machine file says.
 */
export function adviceFindings(machine: Machine, advice: Advice): Finding[] {
  const outOfReach = (advice.obstacles ?? []).map(({ channel, sector, message }) =>
    finding('out-of-reach', message, { channel, sector }),
  );
  return [...outOfReach, ...contradictions(machine, advice)];
}

function contradictions(machine: Machine, advice: Advice): Finding[] {
  return (advice.effects ?? []).flatMap(({ adjuster, msPerUnit, sdMs, geometryMsPerUnit, verdict }) => {
    if (verdict === undefined) return [];
    const unit = machine.description.adjusters.find(({ id }) => id === adjuster)?.unit ?? 'unit';
    const seen = `${signed(msPerUnit)} ms a ${unit} (± ${((sdMs ?? 0) * 2).toFixed(2)})`;
    const said = `the machine file makes it ${signed(geometryMsPerUnit ?? null)} ms`;
    return verdict === 'wrong-way'
      ? [finding('wrong-way-effect', `the takes show ${adjuster} to do ${seen}, and ${said}`, { adjuster })]
      : [
          finding('no-effect', `changing ${adjuster} did next to nothing, ${seen}, and ${said}`, {
            adjuster,
          }),
        ];
  });
}

const signed = (value: number | null) => `${(value ?? 0) > 0 ? '+' : ''}${(value ?? 0).toFixed(2)}`;
