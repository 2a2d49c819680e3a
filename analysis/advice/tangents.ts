/**
 * Tangents to what is not straight in the program: the half-width of a group's interval, and its expected |lateness|.
 * Both are convex in the settings, so a tangent never cuts off an allowed choice, and adding one wherever a solution
 * was judged too kindly leads to the exact optimum (outer approximation: Duran & Grossmann 1986, Math. Programming 36).
 */
import { changedSinceTake, geometricShiftMs, NORMAL_95, predict, type Belief } from './belief.ts';
import type { Tangent } from './program.ts';

/** Expected |lateness| of each group after a change to `settings`, ms: its mean and what the change leaves uncertain. */
export function expectedMs(belief: Belief, settings: readonly number[]): number[] {
  return predict(belief, settings).map(({ meanMs, changeSdMs }) => foldedMean(meanMs, changeSdMs));
}

/**
 * Mean of |x| for normal x: σ·2φ(μ/σ) + μ·(2Φ(μ/σ) − 1) (the folded normal distribution, Leone, Nelson & Nottingham
 * 1961, Technometrics 3:543).
 */
export function foldedMean(mean: number, sd: number): number {
  if (sd === 0) return Math.abs(mean);
  const { bySd, byMean } = foldedSlopes(mean, sd);
  return sd * bySd + mean * byMean;
}

/** Slopes of the folded mean; it is their own sum with (mean, sd), as it grows in proportion to both. */
function foldedSlopes(mean: number, sd: number) {
  const z = mean / sd;
  return { bySd: Math.sqrt(2 / Math.PI) * Math.exp((-z * z) / 2), byMean: errorFunction(z / Math.SQRT2) };
}

/** erf to 1.5e-7: Abramowitz & Stegun 1964, 7.1.26. */
export function errorFunction(x: number): number {
  const t = 1 / (1 + 0.3275911 * Math.abs(x));
  const poly =
    t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  return Math.sign(x) * (1 - poly * Math.exp(-x * x));
}

/** Tangent to a group's interval at `settings`. */
export function intervalTangent(belief: Belief, group: number, settings: readonly number[]): Tangent {
  const { shift, changed, constant, sd } = slopes(belief, group, settings, true);
  const scale = sd > 0 ? NORMAL_95 : 0;
  return {
    group,
    to: 'interval',
    lateness: 0,
    constant: scale * constant,
    shift: shift.map((x) => x * scale),
    changed: changed.map((x) => x * scale),
  };
}

/** Tangent to a group's expected |lateness| at `settings`, where its predicted mean is `meanMs`; null where the change leaves nothing uncertain. */
export function expectedTangent(
  belief: Belief,
  group: number,
  settings: readonly number[],
  meanMs: number,
): Tangent | null {
  const { shift, changed, sd } = slopes(belief, group, settings, false);
  if (sd === 0) return null;
  const { bySd, byMean } = foldedSlopes(meanMs, sd);
  return {
    group,
    to: 'expected',
    lateness: byMean,
    constant: 0,
    shift: shift.map((x) => x * bySd),
    changed: changed.map((x) => x * bySd),
  };
}

/**
 * A standard deviation is the length of a vector that is straight in (1, shifts, changes): its tangent at a point is
 * the sum of its slopes times these. `whole`: with the group's own uncertainty, else what the change brings alone.
 */
function slopes(belief: Belief, g: number, settings: readonly number[], whole: boolean) {
  const share = belief.share[g];
  const count = settings.length;
  const move = settings.map((setting, a) => share[a] * geometricShiftMs(belief, a, setting));
  const own = whole ? (belief.groups[g].ci95Ms / NORMAL_95) ** 2 : 0;
  const shift = new Float64Array(count);
  const changed = new Float64Array(count);
  let constant = own;
  let variance = own;
  for (let a = 0; a < count; a++) {
    if (share[a] === 0) continue;
    const { refitMs } = belief.effects[a];
    const apart = changedSinceTake(belief, a) || settings[a] !== belief.takeSettings[a];
    const refit = apart ? (share[a] * refitMs) ** 2 : 0;
    const covariance = whole ? belief.groupCovariance[g][a] : 0;
    let slope = covariance;
    for (let b = 0; b < count; b++) slope += move[b] * belief.factorCovariance[a][b];
    constant += move[a] * covariance;
    variance += move[a] * (slope + covariance) + refit;
    shift[a] = share[a] * slope;
    changed[a] = refit;
  }
  const sd = Math.sqrt(Math.max(0, variance));
  if (sd === 0) return { shift: shift.fill(0), changed: changed.fill(0), constant: 0, sd };
  return {
    shift: shift.map((x) => x / sd),
    changed: changed.map((x) => x / sd),
    constant: constant / sd,
    sd,
  };
}
