/**
 * How sure a mean is, and whether means differ. Intervals are two-sided 95 %; standard errors and means carry the
 * sample's unit, probabilities run from 0 to 1. What too small a sample cannot say is NaN.
 */
import fCdf from '@stdlib/stats-base-dists-f-cdf';
import studentT from '@stdlib/stats-base-dists-t';
import { mean, sum, sumOfSquares } from './statistics.ts';

/** A mean with how sure it is. Infinite degrees of freedom: the standard error is known, not estimated. */
export interface Estimate {
  readonly mean: number;
  readonly standardError: number;
  readonly degreesOfFreedom: number;
}

/** The t quantile of the normal limit: stdlib's t takes finite degrees of freedom only. At 10⁹ they differ by 1e-9. */
const manyDegreesOfFreedom = 1e9;

/** The value below which a share `p` (0 to 1) of Student's t with these degrees of freedom (> 0, may be ∞) lies. */
export function studentTQuantile(p: number, degreesOfFreedom: number): number {
  return studentT.quantile(p, Math.min(degreesOfFreedom, manyDegreesOfFreedom));
}

/** The share of Student's t with these degrees of freedom (> 0, may be ∞) that lies below a value. */
export function studentTCdf(t: number, degreesOfFreedom: number): number {
  return studentT.cdf(t, Math.min(degreesOfFreedom, manyDegreesOfFreedom));
}

/** Halvings of the quantile's logarithm: to nine digits. */
const halvings = 40;
/** Beyond, F is that of a variance which is known: its quantiles differ from it by less than 1e-5. */
const manyForF = 1e6;

/** The value below which a share `p` (0 to 1) of F with these degrees of freedom (> 0, may be ∞) lies. */
export function fQuantile(p: number, between: number, within: number): number {
  const [a, b] = [Math.min(between, manyForF), Math.min(within, manyForF)];
  let [low, high] = [-30, 30];
  for (let i = 0; i < halvings; i++) {
    const middle = (low + high) / 2;
    if (fCdf(Math.exp(middle), a, b) < p) low = middle;
    else high = middle;
  }
  return Math.exp((low + high) / 2);
}

/** Half-width of the 95 % interval of a mean with this standard error; NaN without a degree of freedom. */
export function ci95(standardError: number, degreesOfFreedom: number): number {
  return degreesOfFreedom > 0 ? standardError * studentTQuantile(0.975, degreesOfFreedom) : NaN;
}

/**
 * Standard error of a sum of independent parts and its effective degrees of freedom (Welch–Satterthwaite; GUM G.4.1).
 * Parts without variance count for nothing; where all are so, the result is known exactly.
 */
export function combine(
  parts: readonly { readonly variance: number; readonly degreesOfFreedom: number }[],
): Pick<Estimate, 'standardError' | 'degreesOfFreedom'> {
  const total = sum(parts.map((part) => part.variance));
  const spent = sum(
    parts.map((part) => (part.variance === 0 ? 0 : part.variance ** 2 / part.degreesOfFreedom)),
  );
  return { standardError: Math.sqrt(total), degreesOfFreedom: spent === 0 ? Infinity : total ** 2 / spent };
}

/** Variance within groups that share one spread: their squares pooled. A group of one or none adds nothing. */
export function pooledVariance(groups: readonly ArrayLike<number>[]): {
  variance: number;
  degreesOfFreedom: number;
} {
  const filled = groups.filter((group) => group.length > 0);
  const degreesOfFreedom = sum(filled.map((group) => group.length - 1));
  return { variance: sum(filled.map(sumOfSquares)) / degreesOfFreedom, degreesOfFreedom };
}

export interface AnovaLine {
  readonly sumOfSquares: number;
  readonly degreesOfFreedom: number;
  readonly meanSquare: number;
}
export interface Anova {
  readonly between: AnovaLine;
  readonly within: AnovaLine;
  readonly f: number;
  /** Probability of an f at least this large where all groups have one mean. */
  readonly p: number;
  /** Spread of the groups' true means, what chance within them adds taken off; 0 where chance explains all. */
  readonly betweenSd: number;
}

/**
 * One-way analysis of variance, groups of any size (Searle, Casella & McCulloch 1992, Variance Components, ch. 3, from
 * memory; for equal groups GUM H.5.2). Empty groups are left out.
 *
 * @param spent degrees of freedom between groups that went into what was taken off the values before
 */
export function anova(allGroups: readonly ArrayLike<number>[], spent = 0): Anova {
  const groups = allGroups.filter((group) => group.length > 0);
  const sizes = groups.map((group) => group.length);
  const count = sum(sizes);
  // All means are taken about one of them: the offset that all values share must not eat the digits of what differs.
  const origin = groups.length > 0 ? mean(groups[0]) : NaN;
  const offsets = groups.map((group) => mean(Float64Array.from(group, (value) => value - origin)));
  const grand = sum(offsets.map((offset, i) => offset * sizes[i])) / count;
  const between = line(
    sum(offsets.map((offset, i) => sizes[i] * (offset - grand) ** 2)),
    groups.length - 1 - spent,
  );
  const within = line(sum(groups.map(sumOfSquares)), count - groups.length);
  const f = between.meanSquare / within.meanSquare;
  // The size of the groups, or where it differs what stands in its place in the expected mean square.
  const size = (count - sum(sizes.map((n) => n * n)) / count) / between.degreesOfFreedom;
  const component = (between.meanSquare - within.meanSquare) / size;
  return {
    between,
    within,
    f,
    // P(F(a, b) > f) as P(F(b, a) < 1/f), which keeps its digits where it is small
    p: fCdf(1 / f, within.degreesOfFreedom, between.degreesOfFreedom),
    betweenSd: Math.sqrt(component < 0 ? 0 : component),
  };
}

function line(squares: number, degreesOfFreedom: number): AnovaLine {
  return { sumOfSquares: squares, degreesOfFreedom, meanSquare: squares / degreesOfFreedom };
}

export interface MeanComparison {
  /** a less b. */
  readonly difference: number;
  readonly standardError: number;
  readonly degreesOfFreedom: number;
  readonly t: number;
  /** Two-sided. */
  readonly p: number;
}

/** Welch's test of whether two means differ, their spreads not taken to be alike (Biometrika 34, 1947, 28). */
export function welch(a: Estimate, b: Estimate): MeanComparison {
  const difference = a.mean - b.mean;
  const error = combine(
    [a, b].map((part) => ({
      variance: part.standardError ** 2,
      degreesOfFreedom: part.degreesOfFreedom,
    })),
  );
  const t = difference / error.standardError;
  const p = 2 * studentTCdf(-Math.abs(t), error.degreesOfFreedom);
  return { difference, ...error, t, p };
}

/**
 * Holm's correction (Scandinavian Journal of Statistics 6, 1979, 65): adjusted probabilities, in the order given. To
 * reject those below α keeps the chance of even one false alarm in the whole list below α.
 */
export function holm(probabilities: readonly number[]): number[] {
  const order = probabilities.map((_, i) => i).sort((i, j) => probabilities[i] - probabilities[j]);
  const adjusted = new Array<number>(probabilities.length);
  let least = 0;
  order.forEach((index, rank) => {
    least = Math.max(least, Math.min(1, (probabilities.length - rank) * probabilities[index]));
    adjusted[index] = least;
  });
  return adjusted;
}
