import { describe, expect, it } from 'vitest';
import { slopesWithin } from '../../analysis/numbers/regression.ts';
import { readSets, rightDigits } from '../reference/nist-strd.ts';

interface RegressionSet {
  /** y, then the x of the model. */
  data: number[][];
  certified: {
    parameters: { estimate: string; standardDeviation: string }[];
    residualStandardDeviation: string;
    anova: { residual: { df: number } };
  };
}

describe('NIST StRD, linear regression', () => {
  const { Norris, Longley, Pontius } = readSets<RegressionSet>('linear-regression');
  const fit = ({ data }: RegressionSet, covariates: number[][]) =>
    slopesWithin(
      [[...data.keys()]],
      data.map(([y]) => y),
      covariates,
    );

  it('Norris: the slope, its standard error and what is left', () => {
    const { parameters, residualStandardDeviation, anova } = Norris.certified;
    const { slopes, standardErrors, residualSd, degreesOfFreedom } = fit(Norris, [
      Norris.data.map(([, x]) => x),
    ])!;
    expect(degreesOfFreedom).toBe(anova.residual.df);
    expect(rightDigits(slopes[0], parameters[1].estimate)).toBeGreaterThanOrEqual(12);
    expect(rightDigits(standardErrors[0], parameters[1].standardDeviation)).toBeGreaterThanOrEqual(11);
    expect(rightDigits(residualSd, residualStandardDeviation)).toBeGreaterThanOrEqual(11);
  });

  // Products of the covariates square the set's condition: eight digits are left of the slope and six of the bend, far more than any take has.
  it('Pontius: a slope and a bend', () => {
    const { parameters } = Pontius.certified;
    const x = Pontius.data.map(([, value]) => value);
    const { slopes } = fit(Pontius, [x, x.map((value) => value * value)])!;
    expect(rightDigits(slopes[0], parameters[1].estimate)).toBeGreaterThanOrEqual(8);
    expect(rightDigits(slopes[1], parameters[2].estimate)).toBeGreaterThanOrEqual(6);
  });

  it('Longley, made to lead fits astray: its covariates are nearly each other’s sums, and nothing is said of them', () => {
    const x = Longley.data.map(([, ...row]) => row);
    expect(
      fit(
        Longley,
        x[0].map((_, j) => x.map((row) => row[j])),
      ),
    ).toBeNull();
  });
});
