import { describe, expect, test } from 'vitest';
import { combine } from '../../analysis/numbers/inference.ts';
import { halfWidthMs, measuredOf } from '../../analysis/strokes/estimate.ts';

test('a difference of two estimates: standard errors add as squares, degrees of freedom by Welch–Satterthwaite', () => {
  // Two of 0.1 on 5 degrees each: √0.02 on 10; t(0.975, 10) = 2.228 (NIST/SEMATECH e-Handbook 1.3.6.7.2).
  const one = { variance: 0.1 ** 2, degreesOfFreedom: 5 };
  const { standardError: standardErrorMs, degreesOfFreedom } = combine([one, one]);
  expect(degreesOfFreedom).toBeCloseTo(10, 9);
  expect(halfWidthMs({ meanMs: 0.4, standardErrorMs, degreesOfFreedom })).toBeCloseTo(
    2.228 * Math.SQRT2 * 0.1,
    3,
  );
});

describe('what a report tells of a group', () => {
  const group = { meanMs: 2, ci95Ms: 0.6 };
  test('its standard error and degrees of freedom where it kept them', () => {
    expect(measuredOf({ ...group, standardErrorMs: 0.19, degreesOfFreedom: 3 })).toEqual({
      meanMs: 2,
      standardErrorMs: 0.19,
      degreesOfFreedom: 3,
    });
  });
  test('a standard error no smaller than it was, where the half-width alone was kept', () => {
    expect(measuredOf(group)!.standardErrorMs).toBeCloseTo(0.6 / 1.96, 4);
  });
  test('nothing where it was not measured', () => {
    expect(measuredOf({ meanMs: null, ci95Ms: null })).toBeNull();
  });
});
