/** Why moments were no hits, as the report carries it. */
import { grouped } from '../numbers/grouped.ts';
import type { Dropped } from '../hits/hits.ts';
import { rejections } from '../hits/select/rejected.ts';
import type { Machine } from '../machine/machine.ts';
import type { Report } from '../results/results.ts';

/** Enough to look any one up; a take of an hour in a talking room has tens of thousands. */
const mostMoments = 500;

export function droppedRows(dropped: readonly Dropped[], machine: Machine): NonNullable<Report['dropped']> {
  const idOf = (channel: number) => (channel < 0 ? null : machine.description.channels[channel].id);
  const counts = [...grouped(dropped, ({ channel, why }) => `${channel} ${why}`).values()]
    .map((alike) => ({ channel: alike[0].channel, why: alike[0].why, count: alike.length }))
    .sort((a, b) => b.count - a.count || a.channel - b.channel)
    .map(({ channel, why, count }) => ({ channel: idOf(channel), why: rejections[why], count }));
  // What would have been a channel's is asked about before what is like nothing.
  const moments = [...dropped]
    .sort((a, b) => Number(b.channel >= 0) - Number(a.channel >= 0) || a.timeS - b.timeS)
    .slice(0, mostMoments)
    .sort((a, b) => a.timeS - b.timeS || a.track - b.track)
    .map(({ timeS, track, channel, why }) => ({
      timeS,
      track,
      channel: idOf(channel),
      why: rejections[why],
    }));
  return { counts, moments };
}
