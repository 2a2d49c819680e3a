/**
 * The model of a take's times, in one linear system. A stroke's time is
 *
 *   y = t(x) + X·b + e(pin) + ε
 *
 * t(x) the barrel's course at position x, its slope wandering like a random walk of variance q a step (numbers/spline.ts);
 * X·b what a channel is late in a sector, steps of the reference's own sectors, and what swings with the turn, all
 * unknown; e a constant of each pin, the same every turn; ε chance. Every channel has its own variance of e and of ε: the
 * keepers of time are the reference and those whose strokes help to tell the course between the reference's. Given the
 * variances all is linear in y: Henderson's mixed model equations (Robinson 1991, Statistical Science 6:15), the course
 * taken out of them by its banded system. Times in ms.
 */
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { bandSystem, evaluate, scatter, secondDifferences, spread } from '../numbers/spline.ts';

export interface CourseData {
  /** Positions at which something struck, steps, strictly ascending, 3 at least. */
  readonly x: Float64Array;
  /** Of each stroke, its index in x. */
  readonly knot: Int32Array;
  /** ms, a line taken off. */
  readonly y: Float64Array;
  /** Of each stroke its keeper; 0 is the reference. */
  readonly keeper: Int32Array;
  readonly keepers: number;
  /** By keeper: whether its pins have constants of their own. */
  readonly ownPins: readonly boolean[];
  /** Of each stroke its pin; −1 where its pin has no constant of its own. */
  readonly pin: Int32Array;
  /** Of each pin its keeper. */
  readonly pinKeeper: Int32Array;
  /** Of each stroke what it is late with: channel and sector; −1 for the reference's. */
  readonly group: Int32Array;
  readonly groups: number;
  /** Further columns of X, as long as y; those of `swings` stand last. */
  readonly columns: readonly Float64Array[];
  /** Of columns that are part of the course: their value at any position. */
  readonly swings: readonly ((position: number) => number)[];
  /** Inner knots where the course may bend at will, because the drive stood: 1, else 0. */
  readonly loose: Uint8Array;
}

/** Variances, ms²: `wander` q, a step; chance and pins by keeper. */
export interface Variances {
  readonly wander: number;
  readonly chance: Float64Array;
  readonly pins: Float64Array;
}

/** What is unknown lies within this of where it is expected, ms: a bound that only keeps the system soluble. */
const anyMs = 1e5;
/** Makes a loose knot's second difference worth nothing beside the others. */
const looseFactor = 1e9;

/** P·z of the restricted likelihood, with what of it the course's wander acts on. */
export interface Projected {
  readonly strokes: Float64Array;
  /** Of inner knots: M⁻¹Qᵀ of what is left. */
  readonly inner: Float64Array;
}

export interface SolvedCourse {
  /** log|V| + log|XᵀV⁻¹X| + yᵀPy, a constant apart: −2 times the restricted log likelihood. */
  readonly deviance: number;
  readonly project: (z: Float64Array) => Projected;
  /** P·y */
  readonly left: Projected;
  /** b of groups, then of columns, then e by pin. */
  readonly effects: Float64Array;
  readonly effectCovariance: (coefficients: Float64Array) => number;
  readonly courseAt: (position: number) => number;
  /** Σ_k amounts[k]·course(points[k]) as weights of y. */
  readonly weights: (points: ArrayLike<number>, amounts: ArrayLike<number>) => Float64Array;
}

export function solveCourse(data: CourseData, variances: Variances): SolvedCourse {
  const { x, knot, y, keeper, pinKeeper, swings } = data;
  const { wander } = variances;
  const n = y.length;
  const precision = Float64Array.from(keeper, (k) => 1 / variances.chance[k]);
  const knotVariance = new Float64Array(x.length);
  for (let i = 0; i < n; i++) knotVariance[knot[i]] += precision[i];
  for (let k = 0; k < x.length; k++) knotVariance[k] = 1 / knotVariance[k];
  const looseVariance =
    looseFactor * (wander * ((x[x.length - 1] - x[0]) / x.length) + Math.max(...variances.chance));
  const band = bandSystem(
    x,
    knotVariance,
    wander,
    Float64Array.from(data.loose, (free) => free * looseVariance),
  );
  const design = designOf(data);

  const onKnots = (z: Float64Array) => {
    const sums = new Float64Array(x.length);
    for (let i = 0; i < n; i++) sums[knot[i]] += z[i] * precision[i];
    for (let k = 0; k < x.length; k++) sums[k] *= knotVariance[k];
    return sums;
  };
  /** What of z no course explains, over its variance. */
  const withoutCourse = (z: Float64Array): Projected => {
    const course = onKnots(z);
    const inner = band.solve(secondDifferences(x, course));
    takeOff(x, inner, knotVariance, course);
    const strokes = new Float64Array(n);
    for (let i = 0; i < n; i++) strokes[i] = precision[i] * (z[i] - course[knot[i]]);
    return { strokes, inner };
  };

  const equations = Matrix.zeros(design.count, design.count);
  for (let j = 0; j < design.count; j++) {
    const row = design.transposed(withoutCourse(design.column(j)).strokes);
    for (let k = 0; k <= j; k++) equations.set(j, k, row[k]).set(k, j, row[k]); // the same to the last bit on both sides
  }
  const prior = Float64Array.from({ length: design.count }, (_, j) =>
    j < design.pinsFrom ? anyMs ** 2 : variances.pins[pinKeeper[j - design.pinsFrom]],
  );
  prior.forEach((value, j) => equations.set(j, j, equations.get(j, j) + 1 / value));
  const factor = new CholeskyDecomposition(equations);
  // Variances so far apart that the equations have no solution in double precision: NaN, and no likelihood.
  const isSolvable = factor.isPositiveDefinite();
  const solve = (right: Float64Array) =>
    isSolvable
      ? Float64Array.from(factor.solve(Matrix.columnVector(right)).getColumn(0))
      : new Float64Array(right.length).fill(NaN);
  const project = (z: Float64Array): Projected & { effects: Float64Array } => {
    const effects = solve(design.transposed(withoutCourse(z).strokes));
    const explained = design.times(effects);
    return { ...withoutCourse(z.map((value, i) => value - explained[i])), effects };
  };
  const left = project(y);
  const explained = design.times(left.effects);
  const values = onKnots(y.map((value, i) => value - explained[i]));
  takeOff(x, left.inner, knotVariance, values);
  const bends = new Float64Array(x.length);
  left.inner.forEach((value, i) => (bends[i + 1] = data.loose[i] ? 0 : wander * value));
  const swingsFrom = design.pinsFrom - swings.length;

  const weights = (points: ArrayLike<number>, amounts: ArrayLike<number>) => {
    const onValues = new Float64Array(x.length);
    const onBends = new Float64Array(x.length);
    for (let k = 0; k < points.length; k++) scatter(x, points[k], amounts[k], onValues, onBends);
    const back = secondDifferences(
      x,
      onValues.map((value, k) => value * knotVariance[k]),
    );
    const adjoint = band.solve(back.map((value, i) => (data.loose[i] ? 0 : wander * onBends[i + 1]) - value));
    const ofKnots = Float64Array.from(onValues);
    spread(x, adjoint, (k, amount) => (ofKnots[k] += amount));
    // As weights of the knots' means, which are the strokes' weighted by their precision.
    const out = new Float64Array(n);
    for (let i = 0; i < n; i++) out[i] = ofKnots[knot[i]] * precision[i] * knotVariance[knot[i]];
    const owed = design.transposed(out);
    swings.forEach((swing, j) => {
      for (let k = 0; k < points.length; k++) owed[swingsFrom + j] -= amounts[k] * swing(points[k]);
    });
    const given = withoutCourse(design.times(solve(owed))).strokes;
    for (let i = 0; i < n; i++) out[i] -= given[i];
    return out;
  };

  let deviance = isSolvable ? band.logDeterminant : NaN;
  for (let i = 0; i < n; i++) deviance += y[i] * left.strokes[i] - Math.log(precision[i]);
  for (let k = 0; k < x.length; k++) deviance -= Math.log(knotVariance[k]);
  for (const value of factor.lowerTriangularMatrix.diagonal()) deviance += 2 * Math.log(value);
  for (let j = design.pinsFrom; j < design.count; j++) deviance += Math.log(prior[j]);
  return {
    deviance,
    project,
    left,
    effects: left.effects,
    effectCovariance: (coefficients) => {
      const solved = solve(coefficients);
      return coefficients.reduce((sum, value, j) => sum + value * solved[j], 0);
    },
    courseAt: (position) =>
      swings.reduce(
        (sum, swing, j) => sum + left.effects[swingsFrom + j] * swing(position),
        evaluate(x, values, bends, position),
      ),
    weights,
  };
}

/** values − variance·(Q·inner), knot by knot, in place. */
function takeOff(x: Float64Array, inner: Float64Array, variance: Float64Array, values: Float64Array): void {
  for (let i = 0; i < inner.length; i++) {
    const before = inner[i] / (x[i + 1] - x[i]);
    const after = inner[i] / (x[i + 2] - x[i + 1]);
    values[i] -= variance[i] * before;
    values[i + 1] += variance[i + 1] * (before + after);
    values[i + 2] -= variance[i + 2] * after;
  }
}

/** X and the pins' incidence side by side, sparse where they are. */
function designOf({ y, group, groups, columns, pin, pinKeeper }: CourseData) {
  const n = y.length;
  const pinsFrom = groups + columns.length;
  return {
    count: pinsFrom + pinKeeper.length,
    pinsFrom,
    column: (j: number): Float64Array => {
      if (j >= groups && j < pinsFrom) return columns[j - groups];
      const of = j < groups ? group : pin;
      const own = j < groups ? j : j - pinsFrom;
      const out = new Float64Array(n);
      for (let i = 0; i < n; i++) if (of[i] === own) out[i] = 1;
      return out;
    },
    transposed: (z: Float64Array): Float64Array => {
      const out = new Float64Array(pinsFrom + pinKeeper.length);
      for (let i = 0; i < n; i++) {
        if (group[i] >= 0) out[group[i]] += z[i];
        if (pin[i] >= 0) out[pinsFrom + pin[i]] += z[i];
      }
      columns.forEach((column, j) => {
        let sum = 0;
        for (let i = 0; i < n; i++) sum += column[i] * z[i];
        out[groups + j] = sum;
      });
      return out;
    },
    times: (effects: Float64Array): Float64Array => {
      const out = new Float64Array(n);
      for (let i = 0; i < n; i++) {
        if (group[i] >= 0) out[i] += effects[group[i]];
        if (pin[i] >= 0) out[i] += effects[pinsFrom + pin[i]];
      }
      columns.forEach((column, j) => {
        for (let i = 0; i < n; i++) out[i] += effects[groups + j] * column[i];
      });
      return out;
    },
  };
}
