/** Ordinary least squares on a few covariates, groups' own means taken off: how far a property moves what has it. */
import { Matrix, inverse } from 'ml-matrix';
import { dot } from './dot.ts';

export interface Slopes {
  readonly slopes: readonly number[];
  readonly standardErrors: readonly number[];
  /** Of each slope, the weight of each y in it: by index into y, those of the groups alone. */
  readonly weights: readonly ReadonlyMap<number, number>[];
  readonly degreesOfFreedom: number;
  /** Spread of what is left. */
  readonly residualSd: number;
}

/** Below this share of a covariate's own square the others explain it: there is no telling them apart. */
const leastOwnShare = 0.05;

/**
 * y = mean of its group + Σ slope·covariate + chance, by demeaning within groups (Frisch & Waugh 1933, Econometrica 1:387).
 * Covariates come in the order of their worth.
 *
 * @returns null where a covariate is the same throughout every group, is what the others are, or leaves nothing to judge by
 */
export function slopesWithin(
  groups: readonly (readonly number[])[],
  y: ArrayLike<number>,
  covariates: readonly ArrayLike<number>[],
): Slopes | null {
  const filled = groups.filter((group) => group.length > 0);
  const indices = filled.flat();
  const degreesOfFreedom = indices.length - filled.length - covariates.length;
  if (degreesOfFreedom < 1) return null;
  const demeaned = (values: ArrayLike<number>) =>
    filled.flatMap((group) => {
      const middle = group.reduce((sum, i) => sum + values[i], 0) / group.length;
      return group.map((i) => values[i] - middle);
    });
  const x = covariates.map(demeaned);
  const right = demeaned(y);
  const products = x.map((a) => x.map((b) => dot(a, b)));
  if (products.some((row, j) => !(row[j] > 1e-9))) return null;
  const turned = inverse(new Matrix(products), true).to2DArray();
  if (turned.some((row, j) => !(row[j] > 0) || 1 / (row[j] * products[j][j]) < leastOwnShare)) return null;
  const against = x.map((a) => dot(a, right));
  const slopes = turned.map((row) => dot(row, against));
  const rests = right.map((value, i) => value - slopes.reduce((sum, slope, j) => sum + slope * x[j][i], 0));
  const residualSd = Math.sqrt(dot(rests, rests) / degreesOfFreedom);
  return {
    slopes,
    standardErrors: turned.map((row, j) => residualSd * Math.sqrt(row[j])),
    weights: turned.map(
      (row) =>
        new Map(indices.map((index, i) => [index, row.reduce((sum, value, j) => sum + value * x[j][i], 0)])),
    ),
    degreesOfFreedom,
    residualSd,
  };
}
