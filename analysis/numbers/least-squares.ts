/**
 * Weighted linear least squares by QR: y ≈ X·b, where row i weighs 1/sd². The factor is taken of X itself and never
 * of XᵀX, which would square its condition (Björck 1996, Numerical Methods for Least Squares Problems, ch. 2).
 */
import { inverse, Matrix, QrDecomposition } from 'ml-matrix';

export interface LinearFit {
  /** The coefficients b, one a column of X; NaN where the columns do not determine them. */
  readonly coefficients: Float64Array;
  /** Covariance of the coefficients, row-major, columns × columns. */
  readonly covariance: Float64Array;
  readonly standardErrors: Float64Array;
  /** y − X·b, in the unit of y. */
  readonly residuals: Float64Array;
  /** Σ (residual/sd)². */
  readonly chiSquare: number;
  /** Rows of weight above 0, less columns. */
  readonly degreesOfFreedom: number;
}

/** A column whose part of its own is smaller than this share of it is taken for a sum of the others: far below any
 * design that a person would mean (Longley's has 1e-7 left), far above the 1e-16 to which doubles hold. */
const dependent = 1e-12;

/**
 * @param rows X, one array a row, all of one length
 * @param y    one value a row
 * @param sd   standard deviation of each y, > 0; Infinity leaves a row out. Absent: all alike and unknown, and then the
 *   covariance is scaled by the residual variance (NaN where no degree of freedom is left to estimate it)
 */
export function fitLinear(
  rows: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  sd?: ArrayLike<number>,
): LinearFit {
  const columns = rows.length > 0 ? rows[0].length : 0;
  const used = rows.map((_, i) => i).filter((i) => sd?.[i] !== Infinity);
  const weight = (i: number) => (sd ? 1 / sd[i] : 1);
  const degreesOfFreedom = used.length - columns;
  const solved = solve(
    used.map((i) => Array.from(rows[i], (x) => x * weight(i))),
    used.map((i) => y[i] * weight(i)),
    columns,
  );
  const residuals = Float64Array.from(rows, (row, i) => y[i] - dot(row, solved.coefficients));
  const chiSquare = used.reduce((total, i) => total + (residuals[i] * weight(i)) ** 2, 0);
  const scale = sd ? 1 : degreesOfFreedom > 0 ? chiSquare / degreesOfFreedom : NaN;
  const covariance = solved.inverseOfNormal.map((entry) => entry * scale);
  const standardErrors = Float64Array.from({ length: columns }, (_, j) =>
    Math.sqrt(covariance[j * columns + j]),
  );
  return {
    coefficients: solved.coefficients,
    covariance,
    standardErrors,
    residuals,
    chiSquare,
    degreesOfFreedom,
  };
}

/** The least-squares solution and (XᵀX)⁻¹ = R⁻¹R⁻ᵀ, X of any scale: its columns are brought near length 1 first. */
function solve(
  rows: number[][],
  y: number[],
  columns: number,
): { coefficients: Float64Array; inverseOfNormal: Float64Array } {
  const lengths = Float64Array.from({ length: columns }, (_, j) =>
    powerOfTwoNear(Math.sqrt(rows.reduce((total, row) => total + row[j] ** 2, 0))),
  );
  const unknown = {
    coefficients: new Float64Array(columns).fill(NaN),
    inverseOfNormal: new Float64Array(columns * columns).fill(NaN),
  };
  if (columns === 0) return unknown;
  if (rows.length < columns || lengths.some((length) => !(length > 0))) return unknown;
  const design = new Matrix(rows.map((row) => row.map((x, j) => x / lengths[j])));
  const factors = new QrDecomposition(design);
  const triangle = factors.upperTriangularMatrix;
  if (triangle.diagonal().some((entry) => !(Math.abs(entry) > dependent))) return unknown;
  const scaled = factors.solve(Matrix.columnVector(y));
  // What the first solution leaves over is solved for once more: one step of refinement (Björck, ch. 2.9).
  const left = Matrix.columnVector(y).sub(design.mmul(scaled));
  scaled.add(factors.solve(left));
  const inverted = inverse(triangle);
  const normal = inverted.mmul(inverted.transpose());
  return {
    coefficients: Float64Array.from(scaled.to1DArray(), (b, j) => b / lengths[j]),
    inverseOfNormal: Float64Array.from({ length: columns * columns }, (_, at) => {
      const [i, j] = [Math.floor(at / columns), at % columns];
      return normal.get(i, j) / lengths[i] / lengths[j];
    }),
  };
}

function dot(row: ArrayLike<number>, b: Float64Array): number {
  return b.reduce((total, coefficient, j) => total + coefficient * row[j], 0);
}

/** Scaling by these costs no digit. 0 stays 0. */
function powerOfTwoNear(length: number): number {
  return length > 0 ? 2 ** Math.round(Math.log2(length)) : length;
}
