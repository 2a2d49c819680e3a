/**
 * The model behind a first smooth rotation, through the reference's strokes alone, in one linear system. Their times are
 *
 *   y = t(x) + X·b + ε
 *
 * t(x) the barrel's time at position x, its slope wandering like a random walk (numbers/spline.ts); X·b the steps of the
 * reference's sectors where it is on the barrel; ε chance. Variances are of ε's = 1; callers scale.
 */
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { dot } from '../numbers/dot.ts';
import { bandSystem, secondDifferences, spread } from '../numbers/spline.ts';

export interface DriftModel {
  /** Positions of the strokes, steps, strictly ascending, 3 at least. */
  readonly x: Float64Array;
  /** Columns of X; each as long as x. */
  readonly columns: readonly Float64Array[];
  /** Inner knots where the curve may bend at will, because the drive stood: 1, else 0. */
  readonly loose: Uint8Array;
  /** q over ε's variance. */
  readonly wander: number;
}

/** Makes a loose knot's second difference worth nothing beside the others. */
const looseFactor = 1e9;

export interface SolvedModel {
  readonly coefficients: Float64Array;
  /** Restricted sum of squares; over `freedom` it estimates ε's variance. */
  readonly squares: number;
  /** Strokes less the line's two and X's unknowns. */
  readonly freedom: number;
  /** log|M| + log|XᵀQM⁻¹QᵀX|: the rest of the restricted likelihood. */
  readonly logDeterminant: number;
  /** t̂ at the knots and its second derivatives there. */
  readonly values: Float64Array;
  readonly bends: Float64Array;
}

export function solveModel({ x, columns, wander, loose }: DriftModel, y: ArrayLike<number>): SolvedModel {
  const looseVariance = looseFactor * (wander * ((x[x.length - 1] - x[0]) / x.length) + 1);
  const band = bandSystem(
    x,
    new Float64Array(x.length).fill(1),
    wander,
    Float64Array.from(loose, (free) => free * looseVariance),
  );
  const count = columns.length;
  const contrasts = columns.map((column) => secondDifferences(x, column));
  const solvedContrasts = contrasts.map(band.solve);
  const products = Matrix.zeros(count, count);
  for (let i = 0; i < count; i++)
    for (let j = 0; j <= i; j++) {
      const product = dot(contrasts[i], solvedContrasts[j]);
      products.set(i, j, product).set(j, i, product); // the same to the last bit on both sides
    }
  const factor = new CholeskyDecomposition(products);
  const z = secondDifferences(x, y);
  const right = Matrix.columnVector(solvedContrasts.map((column) => dot(column, z)));
  // A column that is lost in the others leaves nothing known.
  const coefficients = factor.isPositiveDefinite()
    ? Float64Array.from(factor.solve(right).getColumn(0))
    : new Float64Array(count).fill(NaN);
  const logDeterminant = factor.lowerTriangularMatrix
    .diagonal()
    .reduce((total, value) => total + 2 * Math.log(value), 0);
  const left = Float64Array.from(z);
  contrasts.forEach((column, j) => column.forEach((value, i) => (left[i] -= coefficients[j] * value)));
  const pulled = band.solve(left);
  const noise = new Float64Array(x.length);
  spread(x, pulled, (i, amount) => (noise[i] += amount));
  const values = Float64Array.from(
    x,
    (_, i) => y[i] - noise[i] - columns.reduce((sum, column, j) => sum + coefficients[j] * column[i], 0),
  );
  const bends = new Float64Array(x.length);
  pulled.forEach((value, i) => (bends[i + 1] = loose[i] ? 0 : wander * value));
  return {
    coefficients,
    squares: dot(left, pulled),
    freedom: x.length - 2 - count,
    logDeterminant: band.logDeterminant + logDeterminant,
    values,
    bends,
  };
}
