/** Sound for close listening: stretches, one channel alone, both sides alike long. */
import { expect, test } from 'vitest';
import { inARow, letThrough, soundsAlone, stitched } from '../../extension/view/ear-mix.ts';

const clip = (fromS: number, samples: number[], sampleRate = 10) => ({
  fromS,
  sampleRate,
  samples: Float32Array.from(samples),
});

test('clips lie at their time, cut at the edges, and what no clip reaches is silent', () => {
  const clips = [clip(0.8, [1, 2, 3, 4]), null, clip(1.5, [5, 6])];
  expect([...stitched(clips, 10, 1, 6)]).toEqual([3, 4, 0, 0, 0, 5]);
});

test('a clip of another rate is read between its samples', () => {
  // A ramp of 1 a second at 4 samples a second, asked for at 10.
  const ramp = clip(2, [2, 2.25, 2.5, 2.75, 3, 3.25], 4);
  const got = stitched([ramp], 10, 2, 10);
  got.forEach((value, i) => expect(value).toBeCloseTo(2 + i / 10, 6));
});

test('alone: from shortly before each stroke until another strikes, and at least its beginning', () => {
  const spans = soundsAlone([1, 2, 3], [1.25, 2.001]);
  const rounded = spans.map(({ fromS, toS }) => [fromS, toS].map((s) => +s.toFixed(3)));
  expect(rounded).toEqual([
    [0.98, 1.23],
    [1.98, 2.03],
    [2.98, 3.6],
  ]);
});

test('outside of what is let through all is silent, inside it is as it was but for the edges', () => {
  const sampleRate = 1000;
  const let1 = letThrough(new Float32Array(1000).fill(1), sampleRate, 5, [
    { fromS: 5.2, toS: 5.4 },
    { fromS: 5.35, toS: 5.6 },
  ]);
  expect(let1[199]).toBe(0);
  expect([...let1.subarray(205, 345)].every((value) => value === 1)).toBe(true);
  // Where two overlap there is no gap.
  expect(Math.min(...let1.subarray(345, 595))).toBeGreaterThan(0.9);
  expect([...let1.subarray(601)].every((value) => value === 0)).toBe(true);
});

test('in a row: as loud as may be, and nothing that is no number', () => {
  const row = inARow([Float32Array.of(0, 0.1, NaN, 0.1, 0), Float32Array.of(0, 0.05, 0.05, 0)], 1);
  expect(row).toHaveLength(9);
  expect(Math.max(...row)).toBeCloseTo(0.9, 6);
  expect([...row].every(Number.isFinite)).toBe(true);
  expect([...inARow([new Float32Array(3)], 10)]).toEqual([0, 0, 0]);
});
