import { expect, it } from 'vitest';
import { binomialUpper } from '../../analysis/numbers/binomial.ts';

it('counts three fair coins by hand', () => {
  expect(binomialUpper(0, 3, 0.5)).toBe(1);
  expect(binomialUpper(2, 3, 0.5)).toBeCloseTo(0.5, 12);
  expect(binomialUpper(3, 3, 0.5)).toBeCloseTo(0.125, 12);
  expect(binomialUpper(4, 3, 0.5)).toBe(0);
});
it('knows what never and what always happens', () => {
  expect(binomialUpper(1, 5, 0)).toBe(0);
  expect(binomialUpper(5, 5, 1)).toBe(1);
});
it('agrees with exact fractions, 8 or more of 20 at 0.25, and in the far tail', () => {
  // 1 − Σ C(20, k) 3^(20−k) / 4^20, k < 8.
  let below = 0n;
  for (let k = 0n, choose = 1n; k < 8n; choose = (choose * (20n - k)) / (k + 1n), k++)
    below += choose * 3n ** (20n - k);
  const exact = Number(4n ** 20n - below) / Number(4n ** 20n);
  expect(binomialUpper(8, 20, 0.25)).toBeCloseTo(exact, 12);
  expect(binomialUpper(1000, 1000, 0.9) / 0.9 ** 1000).toBeCloseTo(1, 9);
});
