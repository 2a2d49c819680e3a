/**
 * A lateness with how sure it is. The strokes' room makes estimates and knows each part of their variance; groups, pins,
 * checks, comparison, history and advice combine them and compute no variance of their own.
 *
 * Parts are variances of independent errors, ms²; the standard error is the root of their sum. Degrees of freedom are
 * effective ones (Welch–Satterthwaite; GUM G.4.1): of how much the strokes tell of the variances themselves.
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { grouped } from '../numbers/grouped.ts';
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { ci95, combine } from '../numbers/inference.ts';
import type { Group } from '../results/results.ts';
import { roundingExcess } from './resolution.ts';
import type { Chance, Strokes } from './strokes.ts';

/** What makes an estimate unsure, by part; see the group's keys in results/results.ts. */
export type VarianceParts = NonNullable<Group['varianceMs2']>;

export interface LatenessEstimate {
  /** ms; positive is late. */
  readonly meanMs: number;
  readonly standardErrorMs: number;
  /** Of the standard error; Infinity where it is known, not estimated. */
  readonly degreesOfFreedom: number;
  readonly varianceMs2: VarianceParts;
}

export const noVariance: VarianceParts = {
  chance: 0,
  hearing: 0,
  rotation: 0,
  referencePins: 0,
  onset: 0,
  resolution: 0,
};

/**
 * Σ amounts·lateness of strokes, against the same sum over their pins as they are fitted: a mean, or a difference of
 * means. Everything the strokes share cancels in it as it does in truth.
 *
 * @param chanceOf of each channel, see repeatability.ts; null where nothing tells the chance of one that has a part in it
 */
export function contrast(
  strokes: Strokes,
  machine: Machine,
  chanceOf: readonly Chance[],
  hits: readonly number[],
  amounts: ArrayLike<number>,
): LatenessEstimate | null {
  const { rotation, turn, step, latenessMs } = strokes;
  const { channel, timeSdS, track } = strokes.hits;
  const { steps } = machine.description.barrel;
  const positions = Float64Array.from(hits, (i) => turn[i] * steps + step[i]);
  const course = rotation.errors.of(positions, amounts, hits);
  const ofChannel = new Float64Array(chanceOf.length);
  const squares = new Float64Array(chanceOf.length);
  let meanMs = 0;
  let hearing = 0;
  hits.forEach((hit, k) => {
    meanMs += amounts[k] * latenessMs[hit];
    ofChannel[channel[hit]] += amounts[k];
    squares[channel[hit]] += amounts[k] ** 2;
    if (track[hit] >= 0) hearing += (1000 * amounts[k] * timeSdS[hit]) ** 2;
  });
  const others = [...squares.keys()]
    .filter((c) => squares[c] > 0 && !rotation.errors.chance[c])
    .map((c) => ({
      variance: squares[c] * chanceOf[c].variance,
      degreesOfFreedom: chanceOf[c].degreesOfFreedom,
    }));
  if (others.some(({ degreesOfFreedom }) => !(degreesOfFreedom > 0))) return null;
  const rounding = roundingOf(strokes, machine, chanceOf, hits, amounts);
  const byChance = course.chance + others.reduce((sum, { variance }) => sum + variance, 0);
  const varianceMs2: VarianceParts = {
    ...noVariance,
    // What rounding does to each stroke alone is in its chance as it was seen.
    chance: Math.max(0, byChance - hearing - rounding.alone),
    hearing: Math.min(hearing, byChance),
    rotation: course.rotation,
    referencePins: course.referencePins,
    onset: onsetOf(strokes, machine, ofChannel),
    resolution: rounding.excess + Math.min(rounding.alone, byChance),
  };
  const { standardError, degreesOfFreedom } = combine([
    {
      variance: course.chance + course.rotation + course.referencePins,
      degreesOfFreedom: course.degreesOfFreedom,
    },
    ...others,
    { variance: varianceMs2.onset + rounding.excess, degreesOfFreedom: Infinity },
  ]);
  return { meanMs, standardErrorMs: standardError, degreesOfFreedom, varianceMs2 };
}

/** Of rounded markers: the variance that strokes bring each alone, and what comes on top where they are rounded alike. */
function roundingOf(
  { rotation, stepMs = 0, turn, step, hits: { channel, track } }: Strokes,
  machine: Machine,
  chanceOf: readonly Chance[],
  hits: readonly number[],
  amounts: ArrayLike<number>,
): { alone: number; excess: number } {
  if (stepMs === 0) return { alone: 0, excess: 0 };
  const { steps } = machine.description.barrel;
  const list = hits.flatMap((hit, k) => (track[hit] < 0 ? [{ hit, amount: amounts[k] }] : []));
  const alone = list.reduce((sum, { amount }) => sum + (amount ** 2 * stepMs ** 2) / 12, 0);
  const total = hits.reduce((sum, _, k) => sum + amounts[k], 0);
  const ofReference = Array.from(rotation.referenceHits, (hit) => ({
    hit,
    amount: -total / rotation.referenceHits.length,
  }));
  // Channels and sectors lie off by unknown parts of a step from each other: each has a phase of its own.
  const parts = [
    ...grouped(list, ({ hit }) => `${channel[hit]} ${sectorOf(machine.description, step[hit])}`).values(),
    ...(Math.abs(total) > 1e-12 ? [ofReference] : []),
  ];
  const excess = parts.reduce((sum, part) => {
    const { variance } = chanceOf[channel[part[0].hit]];
    const times = part.map(({ hit }) => 1000 * rotation.timeAt(turn[hit] * steps + step[hit]));
    const jitter = Math.max(0, (variance || 0) - stepMs ** 2 / 12);
    return (
      sum +
      roundingExcess(
        stepMs,
        times,
        part.map(({ amount }) => amount),
        jitter,
      )
    );
  }, 0);
  return { alone, excess };
}

/** One error a channel, the same at every stroke; the reference's is in all lateness. */
function onsetOf({ onsetSdMs }: Strokes, { reference }: Machine, ofChannel: Float64Array): number {
  if (onsetSdMs === undefined) return 0;
  const net = Float64Array.from(ofChannel);
  net[reference] -= ofChannel.reduce((sum, amount) => sum + amount, 0);
  return net.reduce((sum, amount, c) => sum + (amount === 0 ? 0 : (amount * onsetSdMs[c]) ** 2), 0);
}

/** The mean of strokes. */
export function meanOf(
  strokes: Strokes,
  machine: Machine,
  chanceOf: readonly Chance[],
  hits: readonly number[],
): LatenessEstimate | null {
  return contrast(strokes, machine, chanceOf, hits, new Float64Array(hits.length).fill(1 / hits.length));
}

/** Half-width of the 95 % interval, ms; NaN without a degree of freedom. */
export function halfWidthMs({ standardErrorMs, degreesOfFreedom }: Measured): number {
  return ci95(standardErrorMs, degreesOfFreedom);
}

/** What a report keeps of an estimate: enough to combine it with others. */
export type Measured = Pick<LatenessEstimate, 'meanMs' | 'standardErrorMs' | 'degreesOfFreedom'>;

/**
 * What a report says of a group, ready to be combined; null where it was not measured. Reports from before
 * `standardErrorMs` was kept have the half-width alone: taken as a normal one's it makes the standard error no smaller
 * than it was.
 */
export function measuredOf(
  group: Pick<Group, 'meanMs' | 'ci95Ms' | 'standardErrorMs' | 'degreesOfFreedom'>,
): Measured | null {
  const { meanMs, ci95Ms, standardErrorMs, degreesOfFreedom } = group;
  if (meanMs === null || ci95Ms === null) return null;
  if (typeof standardErrorMs === 'number')
    return { meanMs, standardErrorMs, degreesOfFreedom: degreesOfFreedom ?? Infinity };
  return { meanMs, standardErrorMs: ci95Ms / NORMAL_95, degreesOfFreedom: Infinity };
}
