import { describe, expect, test } from 'vitest';
import { roundingExcess, timeResolution } from '../../analysis/strokes/resolution.ts';

const uneven = Array.from({ length: 40 }, (_, i) => 1.234567 + 0.4987 * i + 0.0003 * Math.sin(7 * i));
const roundedTo = (step: number, places = 9) =>
  uneven.map((time) => Number((Math.round(time / step) * step).toFixed(places)));

describe('the step that times lie on', () => {
  test.each([
    ['10 ms', 0.01, 9],
    ['a frame of 25 a second', 0.04, 9],
    ['a frame of 30 a second, written to the millisecond', 1 / 30, 3],
    ['a sample of 8 kHz', 1 / 8000, 9],
    ['a sample of 8 kHz, written to the microsecond', 1 / 8000, 6],
    ['a millisecond', 0.001, 3],
  ])('%s', (_, step, places) => {
    expect(timeResolution(roundedTo(step, places))).toBeCloseTo(step, 12);
  });
  test('times to the microsecond, or not rounded at all, lie on none that matters', () => {
    expect(timeResolution(roundedTo(1e-6))).toBe(0);
    expect(timeResolution(uneven)).toBe(0);
  });
  test('eleven times say nothing', () => {
    expect(timeResolution(roundedTo(0.01).slice(0, 11))).toBe(0);
  });
});

describe('what rounding does to a mean', () => {
  const mean = (n: number) => new Array<number>(n).fill(1 / n);
  test('strokes that all lie alike between two steps: step²/12 whatever their number, as one of them', () => {
    const times = Array.from({ length: 50 }, (_, i) => 20 * i + 3);
    const all = roundingExcess(10, times, mean(50), 0) + 100 / 12 / 50;
    // Twelve harmonics hold all of the sawtooth’s power but 6/π²·Σ_{k>12} 1/k² = 5 %.
    expect(all).toBeGreaterThan((0.94 * 100) / 12);
    expect(all).toBeLessThanOrEqual(100 / 12);
  });
  test('strokes that lie evenly between two steps: nothing beyond chance', () => {
    const times = Array.from({ length: 50 }, (_, i) => 20.2 * i);
    expect(roundingExcess(10, times, mean(50), 0)).toBeLessThan((0.01 * 100) / 12);
  });
  test('chance of half a step makes each stroke’s rounding its own', () => {
    const times = Array.from({ length: 50 }, (_, i) => 20 * i + 3);
    expect(roundingExcess(10, times, mean(50), 25)).toBeLessThan((0.02 * 100) / 12);
  });
});
