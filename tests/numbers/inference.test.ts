import { describe, expect, it } from 'vitest';
import {
  anova,
  ci95,
  combine,
  fQuantile,
  holm,
  pooledVariance,
  studentTQuantile,
  welch,
  type Estimate,
} from '../../analysis/numbers/inference.ts';
import { mean, variance } from '../../analysis/numbers/statistics.ts';
import { readSets, rightDigits } from '../reference/nist-strd.ts';
import { normalDeviates } from './normal.ts';

/** Mean of a sample and its standard error s/√n (GUM 4.2.3). */
function estimateMean(values: readonly number[]): Estimate {
  return {
    mean: mean(values),
    standardError: Math.sqrt(variance(values) / values.length),
    degreesOfFreedom: values.length - 1,
  };
}

describe('Student’s t', () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods 1.3.6.7.2, upper critical values
  it.each([
    [1, 12.706, 63.657],
    [4, 2.776, 4.604],
    [9, 2.262, 3.25],
    [30, 2.042, 2.75],
  ])('with %d degrees of freedom', (degreesOfFreedom, upper025, upper005) => {
    expect(studentTQuantile(0.975, degreesOfFreedom)).toBeCloseTo(upper025, 3);
    expect(studentTQuantile(0.995, degreesOfFreedom)).toBeCloseTo(upper005, 3);
  });
  // the normal 97.5 % point, 1.959964 (any table; from memory)
  it('ends in the normal', () => expect(studentTQuantile(0.975, Infinity)).toBeCloseTo(1.959964, 6));
});

describe('F', () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods 1.3.6.7.3, upper critical values at 10 and 5 %
  it.each([
    [1, 1, 39.863, 161.448],
    [4, 10, 2.605, 3.478],
    [10, 4, 3.92, 5.964],
  ])('with %d and %d degrees of freedom', (a, b, upper10, upper05) => {
    expect(Math.abs(fQuantile(0.9, a, b) / upper10 - 1)).toBeLessThan(5e-4);
    expect(Math.abs(fQuantile(0.95, a, b) / upper05 - 1)).toBeLessThan(5e-4);
  });
  // (normal 95 % point)² = 1.644854² (from memory)
  it('ends in the normal’s square', () => expect(fQuantile(0.9, 1, Infinity)).toBeCloseTo(1.644854 ** 2, 4));
});

describe('the mean’s uncertainty', () => {
  it('is GUM 4.4.3’s', () => {
    // JCGM 100:2008 4.4.3 gives n = 20, mean 100.145, s 1.489, s/√n 0.333 °C; here any sample with that mean and s
    const shape = Array.from({ length: 20 }, (_, i) => i - 9.5);
    const s = Math.sqrt(shape.reduce((total, v) => total + v * v, 0) / 19);
    const estimate = estimateMean(shape.map((v) => 100.145 + (1.489 * v) / s));
    expect(estimate.mean).toBeCloseTo(100.145, 9);
    expect(estimate.standardError).toBeCloseTo(0.333, 3);
    expect(estimate.degreesOfFreedom).toBe(19);
  });
  it('makes the interval by Student’s t', () => expect(ci95(2, 4)).toBeCloseTo(2 * 2.776, 2));
  it('is unknown without a degree of freedom', () => {
    expect(ci95(0.1, 0)).toBeNaN();
    const one = estimateMean([3]);
    expect(ci95(one.standardError, one.degreesOfFreedom)).toBeNaN();
  });
  it('holds the truth in 95 of 100 cases', () => {
    const next = normalDeviates(4711);
    let held = 0;
    for (let i = 0; i < 10_000; i++) {
      const { mean, standardError, degreesOfFreedom } = estimateMean(Array.from({ length: 4 }, next));
      if (Math.abs(mean) <= ci95(standardError, degreesOfFreedom)) held++;
    }
    // ± 0.7 % is three standard deviations of 10 000 throws at 95 %
    expect(Math.abs(held / 10_000 - 0.95), 'seed 4711').toBeLessThan(0.007);
  });
});

describe('parts put together', () => {
  it('has two equal parts’ degrees of freedom together', () => {
    const both = combine([
      { variance: 9, degreesOfFreedom: 5 },
      { variance: 9, degreesOfFreedom: 5 },
    ]);
    expect(both.standardError).toBeCloseTo(Math.sqrt(18), 12);
    expect(both.degreesOfFreedom).toBeCloseTo(10, 12);
  });
  it('a part without scatter takes nothing away, a known part leaves the other’s share', () => {
    const scattered = { variance: 4, degreesOfFreedom: 3 };
    expect(combine([scattered, { variance: 0, degreesOfFreedom: 0 }])).toEqual({
      standardError: 2,
      degreesOfFreedom: 3,
    });
    expect(combine([scattered, { variance: 4, degreesOfFreedom: Infinity }]).degreesOfFreedom).toBe(12);
    expect(combine([])).toEqual({ standardError: 0, degreesOfFreedom: Infinity });
  });
  it('pools within groups', () => {
    // squares about each mean: 2 of 1 and 3, 8 of 10, 12 and 14, none of a single 99; over 1 + 2 + 0 degrees of freedom
    const pooled = pooledVariance([[1, 3], [10, 12, 14], [99], []]);
    expect(pooled).toEqual({ variance: 10 / 3, degreesOfFreedom: 3 });
    expect(pooledVariance([[1], []]).variance).toBeNaN();
  });
});

interface AnovaSet {
  groups: Record<string, number[]>;
  certified: {
    between: { df: number; sumOfSquares: string; F: string };
    within: { df: number; sumOfSquares: string };
  };
}

describe('one-way analysis of variance', () => {
  const sets = readSets<AnovaSet>('anova');
  // Right digits of F. The data themselves, as doubles and in exact arithmetic, give 13.06, 15, 10.15, 10.43 and 4.41.
  it.each([
    ['SiRstv', 13],
    ['SmLs01', 13.5],
    ['AtmWtAg', 10],
    ['SmLs04', 10],
    ['SmLs07', 4],
  ])('NIST StRD %s to %d digits', (name, digits) => {
    const { groups, certified } = sets[name];
    const result = anova(Object.values(groups));
    expect(result.between.degreesOfFreedom).toBe(certified.between.df);
    expect(result.within.degreesOfFreedom).toBe(certified.within.df);
    expect(rightDigits(result.f, certified.between.F)).toBeGreaterThanOrEqual(digits);
    expect(rightDigits(result.between.sumOfSquares, certified.between.sumOfSquares)).toBeGreaterThanOrEqual(
      digits,
    );
    expect(rightDigits(result.within.sumOfSquares, certified.within.sumOfSquares)).toBeGreaterThanOrEqual(
      digits,
    );
  });
  it('separates the spread between groups as GUM H.5 does', () => {
    // JCGM 100:2008 H.5: 10 days of 5; s_a 128 (√5 times the spread of the day means) and s_b 85 µV make s_B 43 µV and
    // F 2.25, which the printed figures give as 128²/85² = 2.27; F.95(9, 40) is 2.12. Data made to have these spreads.
    const evenly = (n: number, sd: number) => {
      const shape = Array.from({ length: n }, (_, i) => i - (n - 1) / 2);
      const unit = Math.sqrt(shape.reduce((total, v) => total + v * v, 0) / (n - 1));
      return shape.map((v) => (v * sd) / unit);
    };
    const days = evenly(10, 128 / Math.sqrt(5)).map((day) => evenly(5, 85).map((v) => day + v));
    const result = anova(days);
    expect(result.f).toBeCloseTo((128 / 85) ** 2, 10);
    expect(result.betweenSd).toBeCloseTo(43, 0);
    expect(result.p).toBeLessThan(0.05);
  });
  it('knows the spread between groups of unequal size', () => {
    // true spread between 2, within 1; 400 groups of 2 … 6
    const next = normalDeviates(12);
    const groups = Array.from({ length: 400 }, (_, i) => {
      const centre = 2 * next();
      return Array.from({ length: 2 + (i % 5) }, () => centre + next());
    });
    expect(Math.abs(anova(groups).betweenSd - 2), 'seed 12').toBeLessThan(0.2);
  });
  it('calls no spread between groups zero', () => {
    const result = anova([
      [1, 3],
      [3, 1],
    ]);
    expect([result.f, result.betweenSd, result.p]).toEqual([0, 0, 1]);
  });
  it('has no answer for one group', () => expect(anova([[1, 2, 3]]).f).toBeNaN());
});

describe('Welch’s test', () => {
  it('agrees with a published example', () => {
    // Student 1908, Biometrika 6:1, hours of extra sleep on two drugs; as two independent samples R's help page for
    // t.test prints t = −1.8608, df = 17.776, p = 0.07939 (from memory).
    const result = welch(
      estimateMean([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2]),
      estimateMean([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]),
    );
    expect(result.difference).toBeCloseTo(-1.58, 10);
    expect(result.t).toBeCloseTo(-1.8608, 4);
    expect(result.degreesOfFreedom).toBeCloseTo(17.776, 3);
    expect(result.p).toBeCloseTo(0.07939, 5);
  });
  it('is the normal test where both spreads are known', () => {
    const known = { standardError: 1, degreesOfFreedom: Infinity };
    expect(welch({ mean: 1.96 * Math.SQRT2, ...known }, { mean: 0, ...known }).p).toBeCloseTo(0.05, 4);
  });
});

describe('Holm’s correction', () => {
  it('steps down, in the order given', () => {
    // by hand: 0.005·4 = 0.02, 0.01·3 = 0.03, 0.03·2 = 0.06, 0.04·1 = 0.04 raised to the 0.06 before it
    const adjusted = holm([0.01, 0.04, 0.03, 0.005]);
    [0.03, 0.06, 0.06, 0.02].forEach((p, i) => expect(adjusted[i]).toBeCloseTo(p, 12));
  });
  it('stops at 1 and takes an empty list', () => {
    expect(holm([0.9, 0.8])).toEqual([1, 1]);
    expect(holm([])).toEqual([]);
  });
});
