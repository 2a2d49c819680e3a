/**
 * Where the drive stood still during a take: between two strokes far more time passed than the barrel took for as many
 * steps before and after. Such a take is several stretches: what is due while the barrel stands, stops or starts, nobody
 * knows, and no tempo and no shaft may be told across it.
 */
import type { Hits } from '../hits/hits.ts';
import type { Machine } from '../machine/machine.ts';
import { median } from '../numbers/statistics.ts';
import type { MatchedHit } from './match.ts';
import type { Stand } from './strokes.ts';

/** A drive that stops loses at least so much, s and steps, and takes so many times as long: hunting and lateness do less. */
const leastLostS = 0.5;
const leastLostSteps = 2;
const leastRatio = 2;

/**
 * @param pairs strokes of all channels with their pins
 * @returns ascending; where the reference struck last before, and first after, an interval in which the drive stood
 */
export function standsOf(machine: Machine, hits: Hits, pairs: readonly MatchedHit[]): Stand[] {
  const inOrder = pairs
    .map(({ hit, due }) => ({ timeS: hits.timeS[hit], position: due.position, channel: due.channel }))
    .sort((a, b) => a.position - b.position || a.timeS - b.timeS);
  const steps = inOrder.slice(1).flatMap((stroke, k) => {
    const by = stroke.position - inOrder[k].position;
    return by > 0 ? [{ k, by, tookS: stroke.timeS - inOrder[k].timeS }] : [];
  });
  if (steps.length === 0) return [];
  const secondsPerStep = median(steps.map(({ by, tookS }) => tookS / by));
  const reference = inOrder.filter(({ channel }) => channel === machine.reference);
  return steps.flatMap(({ k, by, tookS }) => {
    const lostS = tookS - by * secondsPerStep;
    const stood =
      lostS > leastLostS &&
      lostS > leastLostSteps * secondsPerStep &&
      tookS > leastRatio * by * secondsPerStep;
    if (!stood) return [];
    const [from, to] = [inOrder[k], inOrder[k + 1]];
    const before = reference.findLast(({ position }) => position <= from.position);
    const after = reference.find(({ position }) => position >= to.position);
    return [
      {
        fromS: from.timeS,
        lostS,
        fromPosition: before?.position ?? -Infinity,
        toPosition: after?.position ?? Infinity,
        knownUntilS: before?.timeS ?? -Infinity,
        knownFromS: after?.timeS ?? Infinity,
      },
    ];
  });
}

/** Strokes of the longest stretch without a stand. */
export function longestStretch(pairs: readonly MatchedHit[], stands: readonly Stand[]): MatchedHit[] {
  const ends = [
    -Infinity,
    ...stands.flatMap(({ fromPosition, toPosition }) => [fromPosition, toPosition]),
    Infinity,
  ];
  const stretches = Array.from({ length: stands.length + 1 }, (_, k) =>
    pairs.filter(({ due }) => due.position >= ends[2 * k] && due.position <= ends[2 * k + 1]),
  );
  return stretches.reduce((most, stretch) => (stretch.length > most.length ? stretch : most));
}

/** Whether something was due while the drive stood, stopped or started. */
export function whileStanding(stands: readonly Stand[], position: number): boolean {
  return stands.some(({ fromPosition, toPosition }) => position > fromPosition && position < toPosition);
}
