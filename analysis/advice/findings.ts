/** What advice noticed that a person should know. */
import { finding } from '../results/catalogue.ts';
import { signedMs } from '../words/names.ts';
import { grouped } from '../numbers/grouped.ts';
import type { Machine } from '../machine/machine.ts';
import type { Advice, Finding } from '../results/results.ts';

/**
 * Groups that no allowed setting brings within tolerance and what stands in the way, and adjusters that the takes show
 * to do something else than the machine file says; channels whose pins scatter by more than shims can mend.
 */
export function adviceFindings(machine: Machine, advice: Advice): Finding[] {
  const outOfReach = (advice.obstacles ?? []).map(({ channel, sector, message }) =>
    finding('out-of-reach', message, { channel, sector }),
  );
  return [
    ...notHeard(advice),
    ...copied(advice),
    ...doubted(advice),
    ...outOfReach,
    ...contradictions(machine, advice),
    ...scatter(advice),
  ];
}

function notHeard({ unheard = [] }: Advice): Finding[] {
  return unheard.map(({ channel, why }) =>
    finding(
      'not-heard',
      `${channel} could not be measured in this take (${why}): nothing here speaks of it`,
      {
        channel,
      },
    ),
  );
}

function copied({ copies = [] }: Advice): Finding[] {
  return copies.map(({ take, of }) =>
    finding(
      'same-recording',
      `takes ${of} and ${take} hold the same recording: every strike errs by the same chance in both; nothing is learnt from ${take}`,
    ),
  );
}

/** What contradicts the file about an adjuster's own effect is said with its effect, in contradictions(). */
function doubted({ doubts = [], effects = [] }: Advice): Finding[] {
  return doubts.flatMap(({ kind, message, channels, sectors, adjusters }) => {
    const contradicts = effects.some(
      ({ adjuster, verdict }) => verdict !== undefined && adjusters.includes(adjuster),
    );
    if (kind === 'record-in-doubt' && contradicts) return [];
    return [
      finding(kind, message, {
        ...(channels.length === 1 ? { channel: channels[0] } : {}),
        ...(sectors.length === 1 ? { sector: sectors[0] } : {}),
        ...(adjusters.length > 0 ? { adjuster: adjusters[0] } : {}),
      }),
    ];
  });
}

function contradictions(machine: Machine, advice: Advice): Finding[] {
  return (advice.effects ?? []).flatMap(({ adjuster, msPerUnit, sdMs, geometryMsPerUnit, verdict }) => {
    if (verdict === undefined) return [];
    const unit = machine.description.adjusters.find(({ id }) => id === adjuster)?.unit ?? 'unit';
    const seen = `${signedMs(msPerUnit ?? 0)} ms a ${unit} (± ${((sdMs ?? 0) * 2).toFixed(2)})`;
    const doubt = advice.doubts?.find(
      ({ kind, adjusters }) => kind === 'record-in-doubt' && adjusters.includes(adjuster),
    );
    const readings = doubt?.readings.slice(1) ?? [];
    const others = readings.length === 0 ? '' : `; it may be that ${readings.join(', or that ')}`;
    const said = `the machine file makes it ${signedMs(geometryMsPerUnit ?? 0)} ms${others}`;
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
