/** Channels whose sounds sit at each other's pins: microphones, or labels, swapped. */
import type { Machine } from '../machine/machine.ts';
import { differences, highestPeak } from './correlogram.ts';
import type { Due } from './match.ts';
import type { AsWhole } from './whole-steps.ts';

interface Read extends Pick<AsWhole, 'explainedOf' | 'windowS'> {
  /** By channel, times of the hits that sit at its pins, s. */
  readonly times: readonly Float64Array[];
  /** By channel, what was due of those that were heard. */
  readonly heard: readonly (readonly Due[])[];
  /** Barrel position to time, s, through the reference's hits. */
  readonly timeAt: (position: number) => number;
}

/** Share of a channel's pins at which the other's sounds must sit, and by how much more than its own do. */
const mostPins = 0.75;
const clearly = 0.3;
/** By so many pins the other's sounds must beat its own: fewer agree by chance. */
const leastPins = 2;

/**
 * @param read the take as it was recorded
 * @returns by channel, whose pins its sounds sit at: its own index, but for those that are swapped
 */
export function swapped(
  machine: Machine,
  { times, heard, timeAt, explainedOf: own, windowS }: Read,
): number[] {
  const pins = heard.map((strokes) => new Set(strokes.map(({ step }) => step)).size);
  const unexplained = [...heard.keys()].filter(
    (c) => pins[c] > 0 && own[c] < (1 - clearly) * pins[c] && pins[c] - own[c] >= leastPins,
  );
  const itself = machine.description.channels.map((_, c) => c);
  const sitsAt = [...itself];
  for (const a of unexplained) {
    let most = mostPins;
    for (const b of unexplained) {
      if (a === b) continue;
      const reachS = 3 * windowS;
      const { pins: found } = highestPeak(
        differences(times[a], heard[b], timeAt, reachS),
        windowS,
        () => true,
      );
      const share = found / pins[b];
      if (share > most && share - own[b] / pins[b] > clearly && found - own[b] >= leastPins) {
        most = share;
        sitsAt[a] = b;
      }
    }
  }
  // Only a whole exchange is one: each sits at another's pins, and another at its.
  return new Set(sitsAt).size === sitsAt.length ? sitsAt : itself;
}
