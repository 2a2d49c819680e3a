/**
 * Tangents to what is not straight in the program: the half-width of a group's predicted interval. It is convex in the
 * settings, so a tangent never cuts off an allowed choice, and adding one wherever a solution was judged too kindly
 * leads to the exact optimum (outer approximation: Duran & Grossmann 1986, Math. Programming 36).
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { changedSinceTake, geometricShiftMs, type Belief } from './belief.ts';

/** A half-width is at least constant + Σ shift·(own geometric shift since the take) + Σ changed·(1 where changed since). */
export interface Tangent {
  readonly group: number;
  readonly constant: number;
  /** By adjuster. */
  readonly shift: Float64Array;
  readonly changed: Float64Array;
}

/**
 * Tangent to a group's half-width at `settings`. A standard deviation is the length of a vector that is straight in
 * (1, shifts, changes): its tangent at a point is the sum of its slopes times these.
 */
export function tangentAt(belief: Belief, g: number, settings: readonly number[]): Tangent {
  const share = belief.share[g];
  const count = settings.length;
  const move = settings.map((setting, a) => share[a] * geometricShiftMs(belief, a, setting));
  const own = (belief.groups[g].ci95Ms / NORMAL_95) ** 2;
  const shift = new Float64Array(count);
  const changed = new Float64Array(count);
  let constant = own;
  let variance = own;
  for (let a = 0; a < count; a++) {
    if (share[a] === 0) continue;
    const apart = changedSinceTake(belief, a) || settings[a] !== belief.takeSettings[a];
    const refit = apart ? (share[a] * belief.effects[a].refitMs) ** 2 : 0;
    const covariance = belief.groupCovariance[g][a];
    let slope = covariance;
    for (let b = 0; b < count; b++) slope += move[b] * belief.factorCovariance[a][b];
    constant += move[a] * covariance;
    variance += move[a] * (slope + covariance) + refit;
    shift[a] = share[a] * slope;
    changed[a] = refit;
  }
  const sd = Math.sqrt(Math.max(0, variance));
  const scale = sd > 0 ? NORMAL_95 / sd : 0;
  return {
    group: g,
    constant: scale * constant,
    shift: shift.map((x) => x * scale),
    changed: changed.map((x) => x * scale),
  };
}
