import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  mean,
  median,
  robustSd,
  standardDeviation,
  sum,
  variance,
} from '../../analysis/numbers/statistics.ts';
import { readSets, rightDigits } from '../reference/nist-strd.ts';
import { normalDeviates } from './normal.ts';

interface UnivariateSet {
  certified: { mean: string; standardDeviation: string };
  data?: number[];
  digits?: string;
  recipe?: { first: string; thenRepeat: string[] };
}

function dataOf({ data, digits, recipe }: UnivariateSet): number[] {
  if (data) return data;
  if (digits) return [...digits].map(Number);
  return [recipe!.first, ...Array.from({ length: 500 }, () => recipe!.thenRepeat).flat()].map(Number);
}

describe('NIST StRD, univariate', () => {
  const sets = readSets<UnivariateSet>('univariate');
  // Right digits: of the mean, of the standard deviation. NumAcc3 and NumAcc4 cannot do better: their data already
  // lose that much as doubles (exact arithmetic on the doubles gives 9.46 and 8.25 for the deviation).
  it.each([
    ['Lew', 15, 15],
    ['Lottery', 15, 15],
    ['Mavro', 15, 13],
    ['Michelso', 15, 13.5],
    ['PiDigits', 15, 15],
    ['NumAcc1', 15, 15],
    ['NumAcc2', 15, 15],
    ['NumAcc3', 15, 9],
    ['NumAcc4', 15, 8],
  ])('%s: mean to %d digits, standard deviation to %d', (name, meanDigits, sdDigits) => {
    const set = sets[name];
    const data = dataOf(set);
    expect(rightDigits(mean(data), set.certified.mean)).toBeGreaterThanOrEqual(meanDigits);
    const digits = rightDigits(standardDeviation(data), set.certified.standardDeviation);
    expect(digits).toBeGreaterThanOrEqual(sdDigits);
  });
});

describe('sums and middles', () => {
  it('carry what plain addition loses', () => expect(sum([1, 1e100, 1, -1e100])).toBe(2));
  it('of nothing', () => {
    expect(sum([])).toBe(0);
    expect([mean([]), median([]), variance([]), variance([1]), robustSd([1])]).toEqual([
      NaN,
      NaN,
      NaN,
      NaN,
      NaN,
    ]);
  });
  it('median of odd, even and unsorted samples', () => {
    expect([median([7]), median([9, 1, 5]), median([10, 2, 4, 1])]).toEqual([7, 5, 3]);
  });
  it('leave their input alone', () => {
    const values = Float64Array.of(3, 1, 2);
    median(values);
    robustSd(values);
    expect([...values]).toEqual([3, 1, 2]);
  });
});

describe('robust spread', () => {
  const unitQn = (values: number[], n: number) =>
    robustSd(values) / robustSd(Array.from({ length: n }, (_, i) => i));
  it('is the right pair’s distance', () => {
    // n = 5: h = 3, k = 3; pair distances of 0 1 3 7 15 in order: 1 2 3 4 6 …, the third is 3; of 0 … 4 it is 1
    expect(unitQn([15, 0, 7, 1, 3], 5)).toBe(3);
    // n = 4: h = 3, k = 3; 0 1 3 7: 1 2 3 …; of 0 … 3 it is 1
    expect(unitQn([7, 3, 1, 0], 4)).toBe(3);
  });
  it('is zero where most values are the same', () => expect(robustSd([4, 4, 4, 4, 9])).toBe(0));
  it('agrees with sorting all distances, for any values', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ noNaN: true, min: -1e6, max: 1e6 }), { minLength: 2, maxLength: 40 }),
        (values) => {
          const n = values.length;
          const distances = values
            .flatMap((a, i) => values.slice(i + 1).map((b) => Math.abs(a - b)))
            .sort((a, b) => a - b);
          const half = Math.floor(n / 2) + 1;
          const expected = distances[(half * (half - 1)) / 2 - 1];
          const unit = robustSd(Array.from({ length: n }, (_, i) => i));
          // of 0 … n − 1 there are n − d pairs at distance d
          let atUnit = 0;
          for (let pairs = 0; pairs < (half * (half - 1)) / 2;) pairs += n - ++atUnit;
          expect(robustSd(values)).toBeCloseTo((expected * unit) / atUnit, 8);
        },
      ),
      { seed: 20261125 },
    );
  });
  it('scales and does not mind a shift', () => {
    const values = [0.3, -1.2, 2.2, 0.9, 0.1, -0.4];
    expect(robustSd(values.map((v) => 100 - 8 * v))).toBeCloseTo(8 * robustSd(values), 12);
  });
  it('stands nearly half of the sample being wild', () =>
    expect(robustSd([1, 2, 3, 4, 5, 1e6, -1e7, 1e8, 1e9])).toBeLessThan(10));
  it.each([3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20])(
    'is unbiased for %d normal values',
    (n) => {
      // 20 000 samples: the mean of the estimates is known to 0.5 % at n = 3 and better above; 1.5 % is three of those
      const next = normalDeviates(97 + n);
      const estimates = Array.from({ length: 20_000 }, () => robustSd(Array.from({ length: n }, next)));
      expect(Math.abs(mean(estimates) - 1), `seed ${97 + n}`).toBeLessThan(0.015);
    },
  );
});
