/**
 * A lateness with how sure it is. The strokes' room makes estimates and knows each part of their variance; groups, pins,
 * checks, comparison, history and advice combine them and compute no variance of their own.
 *
 * Parts are variances of independent errors, ms²; the standard error is the root of their sum. Degrees of freedom are
 * effective ones (Welch–Satterthwaite; GUM G.4.1): of how much the strokes tell of the variances themselves.
 */
import { ci95, combine } from '../numbers/inference.ts';
import type { Group } from '../results.ts';

/** What makes an estimate unsure, by part; see the group's keys in results.ts. */
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

/** Half-width of the 95 % interval, ms; NaN without a degree of freedom. */
export function halfWidthMs({ standardErrorMs, degreesOfFreedom }: Measured): number {
  return ci95(standardErrorMs, degreesOfFreedom);
}

/** What a report keeps of an estimate: enough to combine it with others. */
export type Measured = Pick<LatenessEstimate, 'meanMs' | 'standardErrorMs' | 'degreesOfFreedom'>;

/** Σ weights·estimates of independent estimates. */
export function combination(estimates: readonly Measured[], weights: readonly number[]): Measured {
  const { standardError, degreesOfFreedom } = combine(
    estimates.map((one, i) => ({
      variance: (weights[i] * one.standardErrorMs) ** 2,
      degreesOfFreedom: one.degreesOfFreedom,
    })),
  );
  const meanMs = estimates.reduce((sum, one, i) => sum + weights[i] * one.meanMs, 0);
  return { meanMs, standardErrorMs: standardError, degreesOfFreedom };
}

/** Standard normal: the factor from a standard error to the half-width of a 95 % interval where nothing is estimated. */
const normal95 = 1.959964;

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
  return { meanMs, standardErrorMs: ci95Ms / normal95, degreesOfFreedom: Infinity };
}
