/**
 * How loud strokes are. A hit's level is that of its channel's template at the gain that was fitted to the strike, dB re
 * full scale: what else sounds at the peak is not in it. It depends on microphone and recorder as much as on the striker,
 * so only levels of one track are held against each other.
 */
import type { Hearing, TrackHearing } from '../hits/hits.ts';
import type { Machine } from '../machine/machine.ts';
import { ci95, pooledVariance } from '../numbers/inference.ts';
import { mean, robustSd, variance } from '../numbers/statistics.ts';
import type { Group } from '../results/results.ts';
import { sectorOf } from '../machine/effects.ts';
import { knownOrNull, fewestForMean } from './groups.ts';
import { usedByPin } from './repeatability.ts';
import type { Strokes } from './strokes.ts';

/** Samples at full scale from which a track counts as clipped: an odd peak at full scale does no harm. */
export const clippedWorthTelling = 10;
/** On a clipped track, strikes from here on may be cut off and seem fainter than they are, dB re full scale. */
const cutOffDb = -3;

/** Strokes of one channel whose levels can be compared. */
export interface ChannelLevels {
  /** Index of the track that heard most of them; −1 where none is known by its sound. */
  readonly track: number;
  /** By pin (step): indices of hits that were heard on that track. */
  readonly byPin: ReadonlyMap<number, readonly number[]>;
  /** Why none is given, where the track heard them; null where they can be relied on. */
  readonly doubt: 'clipped' | null;
}

/** By channel, in the machine's order. */
export function channelLevels(
  strokes: Strokes,
  machine: Machine,
  tracks: readonly TrackHearing[],
): ChannelLevels[] {
  const { track, levelDb } = strokes.hits;
  return usedByPin(strokes, machine).map((pins) => {
    const heard = [...pins.values()].flat().filter((i) => track[i] >= 0 && Number.isFinite(levelDb[i]));
    const own = mostOf(heard.map((i) => track[i]));
    const here = heard.filter((i) => track[i] === own);
    const isClipped =
      (tracks[own]?.clippedSamples ?? 0) >= clippedWorthTelling && here.some((i) => levelDb[i] > cutOffDb);
    if (own === -1 || isClipped) return { track: own, byPin: new Map(), doubt: isClipped ? 'clipped' : null };
    const kept = new Set(here);
    const byPin = [...pins].flatMap(([step, hits]): [number, number[]][] => {
      const levelled = hits.filter((i) => kept.has(i));
      return levelled.length === 0 ? [] : [[step, levelled]];
    });
    return { track: own, byPin: new Map(byPin), doubt: null };
  });
}

function mostOf(values: readonly number[]): number {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].reduce((best, one) => (one[1] > best[1] ? one : best), [-1, 0])[0];
}

/** The groups with their levels; those of channels that are known by markers alone, or cut off, carry none. */
export function withLevels(
  groups: readonly Group[],
  strokes: Strokes,
  machine: Machine,
  { tracks }: Pick<Hearing, 'tracks'>,
): Group[] {
  const { channels, barrel } = machine.description;
  const levels = channelLevels(strokes, machine, tracks);
  return groups.map((group) => {
    const channel = channels.findIndex(({ id }) => id === group.channel);
    const sector = barrel.sectors.findIndex(({ id }) => id === group.sector);
    const { track, byPin } = levels[channel];
    const inGroup = [...byPin].flatMap(([step, hits]) =>
      group.sector === null || sectorOf(machine.description, step) === sector ? [hits] : [],
    );
    if (inGroup.length === 0) return group;
    const dbOf = (pins: Iterable<readonly number[]>) =>
      [...pins].map((hits) => hits.map((i) => strokes.hits.levelDb[i]));
    return { ...group, level: { track, ...levelOf(dbOf(inGroup), dbOf(byPin.values())) } };
  });
}

/**
 * @param pins levels of a group by pin
 * @param ofChannel of all pins of its channel, which tell how far chance moves a stroke
 */
function levelOf(pins: readonly number[][], ofChannel: readonly number[][]) {
  const all = pins.flat();
  const count = all.length;
  if (count < fewestForMean) return { count, meanDb: null, ci95Db: null, sdDb: null };
  const repeats = pooledVariance(ofChannel);
  // Where no pin came round twice the strokes' whole scatter is the honest bound, as it is for lateness.
  const chance =
    repeats.degreesOfFreedom > 0 ? repeats : { variance: variance(all), degreesOfFreedom: count - 1 };
  return {
    count,
    meanDb: knownOrNull(mean(all)),
    ci95Db: knownOrNull(ci95(Math.sqrt(chance.variance / count), chance.degreesOfFreedom)),
    sdDb: knownOrNull(robustSd(all)),
  };
}
