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
