/** Why moments were no hits, as the report carries it. */
import { evenlyFrom } from '../numbers/evenly.ts';
import { grouped } from '../numbers/grouped.ts';
import { bisectLeft } from 'd3-array';
import type { Dropped } from '../hits/hits.ts';
import { rejections } from '../hits/select/rejected.ts';
import type { Machine } from '../machine/machine.ts';
import type { Report } from '../results/results.ts';

/** A take of an hour in a talking room has tens of thousands, and a report is read by people and kept in git. */
const mostMoments = 500;
/** Where a stroke is missing, what sounded so near is what its strike may have been taken for, s: channels lie up to 40 ms off as built. */
const nearMissingS = 0.08;

/**
 * @param missingS when strokes were due that nobody heard, s
 * @returns all counted; of more than are listed first those that would have been a channel's, then those beside a missing stroke,
 *          then as many of the others as there is room for, evenly over the take
 */
export function droppedRows(
  dropped: readonly Dropped[],
  machine: Machine,
  missingS: readonly number[] = [],
): NonNullable<Report['dropped']> {
  const idOf = (channel: number) => (channel < 0 ? null : machine.description.channels[channel].id);
  const counts = [...grouped(dropped, ({ channel, why }) => `${channel} ${why}`).values()]
    .map((alike) => ({ channel: alike[0].channel, why: alike[0].why, count: alike.length }))
    .sort((a, b) => b.count - a.count || a.channel - b.channel)
    .map(({ channel, why, count }) => ({ channel: idOf(channel), why: rejections[why], count }));
  const due = Float64Array.from(missingS).sort();
  const isAskedFor = ({ channel, timeS }: Dropped) =>
    channel >= 0 || due[bisectLeft(due, timeS - nearMissingS)] <= timeS + nearMissingS;
  const asked = dropped.filter(isAskedFor);
  asked.sort((a, b) => Number(b.channel >= 0) - Number(a.channel >= 0) || a.timeS - b.timeS);
  const others = dropped.filter((moment) => !isAskedFor(moment)).sort((a, b) => a.timeS - b.timeS);
  const moments = [...asked.slice(0, mostMoments), ...evenlyFrom(others, mostMoments - asked.length)]
    .sort((a, b) => a.timeS - b.timeS || a.track - b.track)
    .map(({ timeS, track, channel, why }) => ({
      timeS,
      track,
      channel: idOf(channel),
      why: rejections[why],
    }));
  return { counts, moments };
}
