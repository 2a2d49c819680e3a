/**
 * What is not known of when a channel's file began, in the intervals of its means: one error for all strikes of the file, so
 * that more of them do not make it less.
 */
import type { Machine } from '../machine/machine.ts';
import { ci95 } from '../numbers/inference.ts';
import type { Group } from '../results/results.ts';
import type { FileClock } from '../take/clock.ts';
import type { Take } from '../take/take.ts';
import { noVariance } from './estimate.ts';
import type { Strokes } from './strokes.ts';

/** @returns the groups themselves where the take has one file, or all are in step */
export function withClocks(groups: Group[], strokes: Strokes, machine: Machine, take: Take): Group[] {
  const { clocks = [] } = take;
  if (clocks.every(({ startSdS }) => startSdS === 0)) return groups;
  const own = machine.description.channels.map((_, channel) => clockOf(channel, strokes, take, clocks));
  const reference = own[machine.reference];
  return groups.map((group) => {
    const clock = own[machine.description.channels.findIndex(({ id }) => id === group.channel)];
    if (!clock || !reference || clock.file === reference.file) return group;
    const varianceMs2 = 1e6 * (clock.startSdS ** 2 + reference.startSdS ** 2);
    return Number.isFinite(varianceMs2) ? widened(group, varianceMs2) : doubted(group, clock, reference);
  });
}

function widened(group: Group, clock: number): Group {
  const { standardErrorMs, degreesOfFreedom, varianceMs2 = noVariance } = group;
  if (typeof standardErrorMs !== 'number') return group;
  const total = Math.sqrt(standardErrorMs ** 2 + clock);
  // Welch–Satterthwaite: the clock's part is not estimated from these strokes.
  const freedom = degreesOfFreedom ? degreesOfFreedom * (total / standardErrorMs) ** 4 : Infinity;
  return {
    ...group,
    standardErrorMs: total,
    ci95Ms: ci95(total, freedom),
    degreesOfFreedom: Number.isFinite(freedom) ? Math.min(freedom, mostFreedom) : group.degreesOfFreedom,
    varianceMs2: { ...varianceMs2, clock },
  };
}

/** As a report keeps them: more are as good as a million. */
const mostFreedom = 1e6;

function doubted(group: Group, clock: FileClock, reference: FileClock): Group {
  const doubt = `nothing tells whether ${clock.file} began together with ${reference.file}`;
  return { ...group, ci95Ms: null, doubt: group.doubt ?? doubt };
}

/** Of the file on which most of a channel's strokes were heard; null where none was. */
function clockOf(
  channel: number,
  { hits }: Strokes,
  { tracks }: Take,
  clocks: readonly FileClock[],
): FileClock | null {
  const counts = new Map<string, number>();
  for (let i = 0; i < hits.count; i++) {
    if (hits.channel[i] !== channel || hits.track[i] < 0) continue;
    const { file } = tracks[hits.track[i]];
    counts.set(file, (counts.get(file) ?? 0) + 1);
  }
  const most = [...counts].sort((a, b) => b[1] - a[1]).at(0);
  return clocks.find(({ file }) => file === most?.[0]) ?? null;
}
