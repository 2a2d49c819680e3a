import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  crossCorrelation,
  forward,
  inverse,
  paddedLength,
  powerSpectrum,
} from '../../analysis/numbers/fft.ts';

const samples = (log2: number) =>
  fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 2 ** log2, maxLength: 2 ** log2 });

test('four values by hand', () => {
  const { re, im } = forward(Float64Array.of(1, 2, 3, 4));
  expect(Array.from(re)).toEqual([10, -2, -2]);
  expect(Array.from(im, (x) => x + 0)).toEqual([0, 2, 0]);
  expect(Array.from(powerSpectrum(Float64Array.of(1, 2, 3, 4)))).toEqual([100, 8, 4]);
});

test('every bin agrees with the sum that defines it', () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 6 }).chain(samples), (x) => {
      const { re, im } = forward(Float64Array.from(x));
      for (let k = 0; k <= x.length / 2; k++) {
        const angle = (t: number) => (-2 * Math.PI * k * t) / x.length;
        expect(re[k]).toBeCloseTo(
          x.reduce((sum, value, t) => sum + value * Math.cos(angle(t)), 0),
          10,
        );
        expect(im[k]).toBeCloseTo(
          x.reduce((sum, value, t) => sum + value * Math.sin(angle(t)), 0),
          10,
        );
      }
    }),
    { seed: 1 },
  );
});

test.each([2, 4, 8, 256, 4096, 65_536])('the inverse undoes %i values within a few roundings', (n) => {
  const x = Float64Array.from({ length: n }, (_, i) => Math.sin(i * i));
  const back = inverse(forward(x));
  expect(back).toHaveLength(n);
  for (let i = 0; i < n; i++) expect(Math.abs(back[i] - x[i])).toBeLessThan(1e-14);
});

test('results are the caller’s own: another transform of the same length leaves them alone', () => {
  const first = forward(Float64Array.of(1, 0, 0, 0));
  forward(Float64Array.of(0, 5, 0, 0));
  expect(Array.from(first.re)).toEqual([1, 1, 1]);
});

test('cross-correlation agrees with the sum that defines it, and peaks where the shape is', () => {
  const list = fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 1, maxLength: 20 });
  fc.assert(
    fc.property(list, list, (a, b) => {
      const r = crossCorrelation(Float64Array.from(a), Float64Array.from(b));
      expect(r).toHaveLength(a.length + b.length - 1);
      r.forEach((value, i) => {
        const lag = i - (b.length - 1);
        expect(value).toBeCloseTo(
          b.reduce((sum, x, t) => sum + x * (a[t + lag] ?? 0), 0),
          10,
        );
      });
    }),
    { seed: 2 },
  );
  const r = crossCorrelation(Float32Array.of(0, 0, 0, 1, 2, 0), Float32Array.of(1, 2));
  expect(r.indexOf(Math.max(...r)) - 1).toBe(3);
});

test('padded lengths', () => {
  expect([1, 2, 3, 1024, 1025].map(paddedLength)).toEqual([2, 2, 4, 1024, 2048]);
});
