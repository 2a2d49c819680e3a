/**
 * The model behind the smooth rotation, in one linear system. The reference's times are
 *
 *   y = t(x) + X·b + e(pin) + ε
 *
 * t(x) the barrel's time at position x, its slope wandering like a random walk (numbers/spline.ts); X·b the steps of the
 * reference's sectors where it is on the barrel; e a constant of each pin, the same every turn; ε chance. Given the
 * ratios of the variances, everything estimated is linear in y: best linear unbiased prediction (Robinson 1991,
 * Statistical Science 6:15). Variances are of ε's = 1; callers scale.
 */
import { bandSystem, scatter, secondDifferences, spread, type BandSystem } from '../numbers/spline.ts';

export interface DriftModel {
  /** Positions of the strokes, steps, strictly ascending, 3 at least. */
  readonly x: Float64Array;
  /** Number of each stroke's pin, 0 to pins − 1. */
  readonly pin: Int32Array;
  readonly pins: number;
  /** Columns of X; each as long as x. */
  readonly columns: readonly Float64Array[];
  /** Inner knots where the curve may bend at will, because the drive stood: 1, else 0. */
  readonly loose: Uint8Array;
  /** q over ε's variance. */
  readonly wander: number;
  /** Variance of e over ε's. */
  readonly pinShare: number;
}

/** Makes a loose knot's second difference worth nothing beside the others. */
const looseFactor = 1e9;
/** Conjugate gradients stop here, relative: far below what a double's rounding does to the sums. */
const solved = 1e-11;
const mostRounds = 300;

export interface SolvedModel {
  readonly coefficients: Float64Array;
  /** (XᵀQM⁻¹QᵀX)⁻¹, row-major: the coefficients' covariance where ε's variance is 1. */
  readonly covariance: Float64Array;
  /** Restricted sum of squares; over `freedom` it estimates ε's variance. */
  readonly squares: number;
  /** Strokes less the line's two and X's unknowns. */
  readonly freedom: number;
  /** log|M| + log|XᵀQM⁻¹QᵀX|, without the pins' part: the rest of the restricted likelihood where pinShare is 0. */
  readonly logDeterminant: number;
  /** t̂ at the knots and its second derivatives there. */
  readonly values: Float64Array;
  readonly bends: Float64Array;
  /** Σ_k coefficients[k]·t̂(points[k]) as weights of y. */
  readonly weights: (points: ArrayLike<number>, coefficients: ArrayLike<number>) => Float64Array;
}

export function solveModel(model: DriftModel, y: ArrayLike<number>): SolvedModel {
  const { x, columns, wander, loose } = model;
  const ones = new Float64Array(x.length).fill(1);
  const scale = looseFactor * (wander * ((x[x.length - 1] - x[0]) / x.length) + 1);
  const band = bandSystem(
    x,
    ones,
    wander,
    Float64Array.from(loose, (free) => free * scale),
  );
  const solve = solver(model, band);
  const count = columns.length;
  const contrasts = columns.map((column) => secondDifferences(x, column));
  const solvedContrasts = contrasts.map(solve);
  const { inverse, logDeterminant } = invert(contrasts.map((a) => solvedContrasts.map((b) => dot(a, b))));
  const z = secondDifferences(x, y);
  const right = solvedContrasts.map((column) => dot(column, z));
  const coefficients = Float64Array.from({ length: count }, (_, j) => dot(inverse[j], right));
  const left = Float64Array.from(z);
  contrasts.forEach((column, j) => column.forEach((value, i) => (left[i] -= coefficients[j] * value)));
  const pulled = solve(left);
  const noise = throughNoise(model, spreadOut(x, pulled));
  const values = Float64Array.from(
    x,
    (_, i) => y[i] - noise[i] - columns.reduce((sum, column, j) => sum + coefficients[j] * column[i], 0),
  );
  const bends = new Float64Array(x.length);
  pulled.forEach((value, i) => (bends[i + 1] = loose[i] ? 0 : wander * value));
  return {
    coefficients,
    covariance: Float64Array.from(inverse.flatMap((row) => Array.from(row))),
    squares: dot(left, pulled),
    freedom: x.length - 2 - count,
    logDeterminant: band.logDeterminant + logDeterminant,
    values,
    bends,
    weights(points, amounts) {
      const onValues = new Float64Array(x.length);
      const onBends = new Float64Array(x.length);
      for (let k = 0; k < points.length; k++) scatter(x, points[k], amounts[k], onValues, onBends);
      // t̂ = (I − VQM⁻¹Qᵀ)(y − X·b̂), its bends qM⁻¹Qᵀ(y − X·b̂), b̂ = GXᵀQM⁻¹Qᵀy: all transposed.
      const back = secondDifferences(x, throughNoise(model, onValues));
      const adjoint = solve(back.map((value, i) => (loose[i] ? 0 : wander * onBends[i + 1]) - value));
      const out = spreadOut(x, adjoint);
      out.forEach((_, i) => (out[i] += onValues[i]));
      const onColumns = columns.map((column) => dot(column, out));
      solvedContrasts.forEach((column, j) => {
        const amount = dot(inverse[j], onColumns);
        spread(x, column, (i, value) => (out[i] -= amount * value));
      });
      return out;
    },
  };
}

/** M⁻¹, the pins' constants in it: conjugate gradients (Hestenes & Stiefel 1952) with the banded part as preconditioner. */
function solver(model: DriftModel, band: BandSystem): (right: Float64Array) => Float64Array {
  const { x, pinShare } = model;
  if (pinShare === 0) return band.solve;
  const ofPins = (b: Float64Array) => secondDifferences(x, pinSums(model, spreadOut(x, b)));
  // M·b is never formed: band.solve undoes the banded part, and what it was of is carried along.
  return (right) => {
    const out = new Float64Array(right.length);
    const rest = Float64Array.from(right);
    let smooth = band.solve(rest);
    let direction = smooth;
    // (banded part)·direction, by the same recursion as direction itself.
    let ofBand = Float64Array.from(rest);
    let size = dot(rest, smooth);
    const enough = size * solved * solved;
    for (let round = 0; round < mostRounds && size > enough; round++) {
      const pins = ofPins(direction);
      const image = ofBand.map((value, i) => value + pinShare * pins[i]);
      const step = size / dot(direction, image);
      for (let i = 0; i < out.length; i++) {
        out[i] += step * direction[i];
        rest[i] -= step * image[i];
      }
      smooth = band.solve(rest);
      const next = dot(rest, smooth);
      const turn = next / size;
      const before = direction;
      direction = smooth.map((value, i) => value + turn * before[i]);
      ofBand = ofBand.map((value, i) => rest[i] + turn * value);
      size = next;
    }
    return out;
  };
}

/** Σ over each stroke's pin's strokes. */
function pinSums({ pin, pins }: DriftModel, values: Float64Array): Float64Array {
  const sums = new Float64Array(pins);
  for (let i = 0; i < pin.length; i++) sums[pin[i]] += values[i];
  return Float64Array.from(pin, (p) => sums[p]);
}

/** V·values: chance and the pins' constants. */
function throughNoise(model: DriftModel, values: Float64Array): Float64Array {
  if (model.pinShare === 0) return values;
  const pins = pinSums(model, values);
  return values.map((value, i) => value + model.pinShare * pins[i]);
}

function spreadOut(x: Float64Array, inner: Float64Array): Float64Array {
  const out = new Float64Array(x.length);
  spread(x, inner, (i, amount) => (out[i] += amount));
  return out;
}

export function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}

/** A small symmetric positive matrix turned over (Gauss–Jordan); a column that is lost in the others gives Infinity. */
function invert(matrix: number[][]): { inverse: number[][]; logDeterminant: number } {
  const n = matrix.length;
  const work = matrix.map((row, i) => [...row, ...row.map((_, j) => (i === j ? 1 : 0))]);
  let logDeterminant = 0;
  for (let i = 0; i < n; i++) {
    const pivot = work[i][i];
    logDeterminant += Math.log(pivot);
    for (let j = 0; j < 2 * n; j++) work[i][j] /= pivot;
    for (let k = 0; k < n; k++) {
      if (k === i) continue;
      const factor = work[k][i];
      for (let j = 0; j < 2 * n; j++) work[k][j] -= factor * work[i][j];
    }
  }
  return { inverse: work.map((row) => row.slice(n)), logDeterminant };
}
