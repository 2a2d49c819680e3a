import { describe, expect, it } from 'vitest';
import { fitLinear, type LinearFit } from '../../analysis/numbers/least-squares.ts';
import { readSets, rightDigits } from '../reference/nist-strd.ts';
import { normalDeviates } from './normal.ts';

interface RegressionSet {
  /** y, then the x of the model. */
  data: number[][];
  certified: {
    parameters: { estimate: string; standardDeviation: string }[];
    residualStandardDeviation: string;
    anova: { residual: { df: number } };
  };
}

const polynomial =
  (degree: number) =>
  ([, x]: number[]) =>
    Array.from({ length: degree + 1 }, (_, k) => x ** k);
const worst = (values: ArrayLike<number>, certified: string[]) =>
  Math.min(...Array.from(values, (value, i) => rightDigits(value, certified[i])));

describe('NIST StRD, linear regression', () => {
  const sets = readSets<RegressionSet>('linear-regression');
  // Right digits of the worst coefficient and the worst standard error (Wampler1's are certified 0: its absolute error).
  // What is lost is the sets' own condition: Longley's, Wampler's and Filip's were chosen to be hard for doubles.
  it.each([
    ['Norris', polynomial(1), 13, 13],
    ['Pontius', polynomial(2), 12, 12],
    ['NoInt1', ([, x]: number[]) => [x], 14, 14],
    ['Longley', ([, ...x]: number[]) => [1, ...x], 11, 12],
    ['Wampler1', polynomial(5), 10, 9],
    ['Wampler5', polynomial(5), 6, 13],
    ['Filip', polynomial(10), 7, 7],
  ])('%s', (name, row, coefficientDigits, errorDigits) => {
    const { data, certified } = sets[name];
    const fit = fitLinear(
      data.map(row),
      data.map(([y]) => y),
    );
    expect(fit.degreesOfFreedom).toBe(certified.anova.residual.df);
    const estimates = certified.parameters.map((parameter) => parameter.estimate);
    expect(worst(fit.coefficients, estimates)).toBeGreaterThanOrEqual(coefficientDigits);
    const errors = certified.parameters.map((parameter) => parameter.standardDeviation);
    if (Number(errors[0]) === 0)
      return expect(Math.max(...fit.standardErrors)).toBeLessThan(10 ** -errorDigits);
    expect(worst(fit.standardErrors, errors)).toBeGreaterThanOrEqual(errorDigits);
    const spread = Math.sqrt(fit.chiSquare / fit.degreesOfFreedom);
    expect(rightDigits(spread, certified.residualStandardDeviation)).toBeGreaterThanOrEqual(errorDigits);
  });
});

describe('weights', () => {
  const line = [0, 1, 2, 3].map((x) => [1, x]);
  it('by hand: the weighted mean of two readings', () => {
    // 10 ± 1 and 16 ± 2: weights 1 and ¼, mean (10 + 4)/1.25 = 11.2, variance 1/1.25 = 0.8, χ² 1.44 + 5.76 = 36/5 … (6²)/(1 + 4)
    const fit = fitLinear([[1], [1]], [10, 16], [1, 2]);
    expect(fit.coefficients[0]).toBeCloseTo(11.2, 12);
    expect(fit.covariance[0]).toBeCloseTo(0.8, 12);
    expect(fit.chiSquare).toBeCloseTo(36 / 5, 12);
    expect([...fit.residuals].map((r) => r.toFixed(9))).toEqual(['-1.200000000', '4.800000000']);
  });
  it('equal weights change nothing but the errors’ origin', () => {
    const y = [1, 3, 2, 5];
    const free = fitLinear(line, y);
    const known = fitLinear(line, y, [0.5, 0.5, 0.5, 0.5]);
    known.coefficients.forEach((b, i) => expect(b).toBeCloseTo(free.coefficients[i], 12));
    // the slope of x = 0 … 3 has Σ(x − x̄)² = 5
    expect(known.standardErrors[1]).toBeCloseTo(0.5 / Math.sqrt(5), 12);
  });
  it('a row without weight counts for nothing, but has its residual', () => {
    const fit = fitLinear(line, [0, 1, 2, 99], [1, 1, 1, Infinity]);
    expect(fit.coefficients[1]).toBeCloseTo(1, 12);
    expect(fit.residuals[3]).toBeCloseTo(96, 10);
    expect(fit.degreesOfFreedom).toBe(1);
  });
  it('does not mind the unit of a column', () => {
    const fit = fitLinear(line, [1, 3, 2, 5]);
    const scaled = fitLinear(
      line.map(([one, x]) => [one, x * 1e9]),
      [1, 3, 2, 5],
    );
    expect(scaled.coefficients[1] * 1e9).toBeCloseTo(fit.coefficients[1], 12);
    expect(scaled.standardErrors[1] * 1e9).toBeCloseTo(fit.standardErrors[1], 12);
  });
  it('its errors are the spread that repeated fits show', () => {
    const next = normalDeviates(31);
    const sd = [1, 2, 0.5, 3];
    const slopes = Array.from({ length: 4000 }, () => {
      const y = sd.map((s, x) => 2 * x + s * next());
      return fitLinear(line, y, sd).coefficients[1];
    });
    const spread = Math.sqrt(slopes.reduce((total, slope) => total + (slope - 2) ** 2, 0) / slopes.length);
    const expected = fitLinear(line, [0, 0, 0, 0], sd).standardErrors[1];
    // the spread of 4000 values is known to 1.1 %
    expect(Math.abs(spread / expected - 1), 'seed 31').toBeLessThan(0.035);
  });
});

describe('what data cannot say is NaN', () => {
  const isUnknown = (fit: LinearFit) => [...fit.coefficients, ...fit.covariance].every(Number.isNaN);
  it.each([
    ['two columns alike', [1, 2, 3].map((x) => [x, 2 * x])],
    ['a column of nothing', [1, 2, 3].map((x) => [x, 0])],
    ['fewer rows than columns', [[1, 2]]],
  ])('%s', (_, rows) => expect(isUnknown(fitLinear(rows, [1, 2, 4].slice(0, rows.length)))).toBe(true));
  it('nor the errors where nothing is left over, unless they are given', () => {
    const rows = [
      [1, 0],
      [1, 1],
    ];
    expect(fitLinear(rows, [1, 2]).standardErrors[0]).toBeNaN();
    expect(fitLinear(rows, [1, 2], [1, 1]).standardErrors[0]).toBeCloseTo(1, 12);
  });
  it('nothing at all is an empty fit', () => expect(fitLinear([], []).coefficients).toHaveLength(0));
});
