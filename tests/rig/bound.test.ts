import { expect, test } from 'vitest';
import { timeBoundS } from './bound.ts';

/** A Gaussian pulse exp(−t²/2w²) with w = 0.1 ms at 48 kHz. */
const pulse = (amplitude: number) =>
  Float64Array.from({ length: 401 }, (_, i) => amplitude * Math.exp(-0.5 * ((i - 200) / 48_000 / 1e-4) ** 2));

test('a Gaussian pulse of 0.1 ms in noise of 0.01 can be timed to 0.4848 µs', () => {
  // Worked from Kay 1993, 3.11; and by hand: Σ s′² ≈ 48000·√π/(2w).
  expect(1e6 * timeBoundS(pulse(1), 48_000, 0.01)).toBeCloseTo(0.4848, 4);
  expect(timeBoundS(pulse(1), 48_000, 0.01)).toBeCloseTo(
    0.01 / Math.sqrt((48_000 * Math.sqrt(Math.PI)) / 2e-4),
    9,
  );
});

test('twice the noise or half the pulse: half as exact', () => {
  const base = timeBoundS(pulse(1), 48_000, 0.01);
  expect(timeBoundS(pulse(1), 48_000, 0.02)).toBeCloseTo(2 * base, 12);
  expect(timeBoundS(pulse(0.5), 48_000, 0.01)).toBeCloseTo(2 * base, 12);
});
