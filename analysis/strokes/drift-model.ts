/**
 * The model behind the smooth rotation, in one linear system. The reference's times are
 *
 *   y = t(x) + X·b + e(pin) + ε
 *
 * t(x) the barrel's time at position x, its slope wandering like a random walk (numbers/spline.ts); X·b the steps of the
 * reference's sectors where it is on the barrel, and what swings with the turn where it is not; e a constant of each pin, the same every turn; ε chance. Given the
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
  /** For columns that are part of the barrel's time and not of the reference alone: their value at any position. */
  readonly swings?: readonly ((position: number) => number)[];
  /** Inner knots where the curve may bend at will, because the drive stood: 1, else 0. */
  readonly loose: Uint8Array;
  /** q over ε's variance. */
  readonly wander: number;
  /** Variance of e over ε's. */
  readonly pinShare: number;
}

type Pins = Pick<DriftModel, 'pin' | 'pins'>;

/** Makes a loose knot's second difference worth nothing beside the others. */
const looseFactor = 1e9;

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
  const { x, columns, wander, loose, swings = [] } = model;
  const band = bandOf(model);
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
      // The swings stand last among the columns; what they add to the barrel's time is asked for too.
      swings.forEach((swing, j) => {
        let asked = 0;
        for (let k = 0; k < points.length; k++) asked += amounts[k] * swing(points[k]);
        onColumns[count - swings.length + j] -= asked;
      });
      solvedContrasts.forEach((column, j) => {
        const amount = dot(inverse[j], onColumns);
        spread(x, column, (i, value) => (out[i] -= amount * value));
      });
      return out;
    },
  };
}

/** The part of M that is no pin's. */
function bandOf({ x, wander, loose }: Omit<DriftModel, 'pinShare'>): BandSystem {
  const ones = new Float64Array(x.length).fill(1);
  const scale = looseFactor * (wander * ((x[x.length - 1] - x[0]) / x.length) + 1);
  return bandSystem(
    x,
    ones,
    wander,
    Float64Array.from(loose, (free) => free * scale),
  );
}

/**
 * The log likelihood (restricted, ε's variance at its likeliest but no less than `leastVariance`, a constant apart) of one
 * wander with any share of the pins: what takes long is done once for all shares.
 */
export function likelihoodOfShares(
  model: Omit<DriftModel, 'pinShare'>,
  y: ArrayLike<number>,
  leastVariance: number,
): (pinShare: number) => number {
  const { x, pins, columns } = model;
  const band = bandOf(model);
  const seen = [y, ...columns].map((column) => secondDifferences(x, column));
  const solvedSeen = seen.map(band.solve);
  const direct = seen.map((a) => solvedSeen.map((b) => dot(a, b)));
  const toPins = (inner: Float64Array) => sumsOf(model, spreadOut(x, inner));
  const mixed = solvedSeen.map(toPins);
  const unit = (p: number) => Float64Array.from({ length: pins }, (_, k) => (k === p ? 1 : 0));
  const ofPins = Array.from({ length: pins }, (_, p) =>
    toPins(band.solve(secondDifferences(x, ofTheirPins(model, unit(p))))),
  );
  const freedom = x.length - 2 - columns.length;
  return (pinShare) => {
    const factor = cholesky(
      ofPins.map((row, p) => row.map((value, k) => pinShare * value + (p === k ? 1 : 0))),
    );
    const halves = mixed.map((column) => forward(factor, column));
    const left = direct.map((row, i) => row.map((value, j) => value - pinShare * dot(halves[i], halves[j])));
    const ofColumns = invert(left.slice(1).map((row) => row.slice(1)));
    const right = left[0].slice(1);
    const squares =
      left[0][0] - right.reduce((sum, value, i) => sum + value * dot(ofColumns.inverse[i], right), 0);
    const noise = Math.max(squares / freedom, leastVariance);
    const ofPinsLog = factor.reduce((sum, row, p) => sum + 2 * Math.log(row[p]), 0);
    return (
      -0.5 *
      (band.logDeterminant +
        ofPinsLog +
        ofColumns.logDeterminant +
        squares / noise +
        freedom * Math.log(noise))
    );
  };
}

/** Lower triangle L of LLᵀ. */
function cholesky(matrix: readonly Float64Array[]): Float64Array[] {
  const lower = matrix.map((row) => Float64Array.from(row));
  for (let i = 0; i < lower.length; i++)
    for (let j = 0; j <= i; j++) {
      let sum = lower[i][j];
      for (let k = 0; k < j; k++) sum -= lower[i][k] * lower[j][k];
      lower[i][j] = i === j ? Math.sqrt(sum) : sum / lower[j][j];
    }
  return lower;
}

/** L⁻¹·right */
function forward(lower: readonly Float64Array[], right: Float64Array): Float64Array {
  const out = Float64Array.from(right);
  for (let i = 0; i < out.length; i++) {
    for (let k = 0; k < i; k++) out[i] -= lower[i][k] * out[k];
    out[i] /= lower[i][i];
  }
  return out;
}

/**
 * M⁻¹, the pins' constants in it: M is the banded part and, with U = QᵀP, a part ρUUᵀ of no more rank than there are
 * pins, so M⁻¹ = B⁻¹ − B⁻¹U(I/ρ + UᵀB⁻¹U)⁻¹UᵀB⁻¹ (Woodbury 1950).
 */
function solver(model: DriftModel, band: BandSystem): (right: ArrayLike<number>) => Float64Array {
  const { x, pins, pinShare } = model;
  if (pinShare === 0) return band.solve;
  const toPins = (inner: Float64Array) => sumsOf(model, spreadOut(x, inner));
  const fromPins = (sums: Float64Array) => secondDifferences(x, ofTheirPins(model, sums));
  const small = Array.from({ length: pins }, (_, p) => {
    const row = toPins(
      band.solve(fromPins(Float64Array.from({ length: pins }, (_, k) => (k === p ? 1 : 0)))),
    );
    row[p] += 1 / pinShare;
    return Array.from(row);
  });
  const { inverse } = invert(small);
  return (right) => {
    const out = band.solve(right);
    const sums = toPins(out);
    const held = band.solve(fromPins(Float64Array.from(inverse, (row) => dot(row, sums))));
    for (let i = 0; i < out.length; i++) out[i] -= held[i];
    return out;
  };
}

/** Pᵀ·values: the sum over each pin's strokes. */
function sumsOf({ pin, pins }: Pins, values: Float64Array): Float64Array {
  const sums = new Float64Array(pins);
  for (let i = 0; i < pin.length; i++) sums[pin[i]] += values[i];
  return sums;
}

/** P·sums: to each stroke its pin's. */
function ofTheirPins({ pin }: Pins, sums: Float64Array): Float64Array {
  return Float64Array.from(pin, (p) => sums[p]);
}

/** V·values: chance and the pins' constants. */
function throughNoise(model: DriftModel, values: Float64Array): Float64Array {
  if (model.pinShare === 0) return values;
  const pins = ofTheirPins(model, sumsOf(model, values));
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
