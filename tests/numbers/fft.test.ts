import fc from 'fast-check';
import { expect, test } from 'vitest';
import { correlated, padded, RealFourier } from '../../analysis/numbers/fft.ts';

const samples = (log2: number) =>
  fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 2 ** log2, maxLength: 2 ** log2 });

const forward = (x: ArrayLike<number>) =>
  Array.from(new RealFourier(x.length).forward(x), (value) => value + 0);

test('four values by hand', () => {
  expect(forward([1, 2, 3, 4])).toEqual([10, 0, -2, 2, -2, 0]);
  expect(Array.from(new RealFourier(4).power([1, 2, 3, 4]))).toEqual([100, 8, 4]);
});

test('every bin agrees with the sum that defines it', () => {
  fc.assert(
    fc.property(fc.integer({ min: 2, max: 6 }).chain(samples), (x) => {
      const spectrum = forward(x);
      expect(spectrum).toHaveLength(x.length + 2);
      for (let k = 0; k <= x.length / 2; k++) {
        const angle = (t: number) => (-2 * Math.PI * k * t) / x.length;
        const re = x.reduce((sum, value, t) => sum + value * Math.cos(angle(t)), 0);
        const im = x.reduce((sum, value, t) => sum + value * Math.sin(angle(t)), 0);
        expect(spectrum[2 * k]).toBeCloseTo(re, 10);
        expect(spectrum[2 * k + 1]).toBeCloseTo(im, 10);
      }
    }),
    { seed: 1 },
  );
});

test.each([4, 8, 256, 4096, 65_536])('the inverse undoes %i values within a few roundings', (n) => {
  const x = Float64Array.from({ length: n }, (_, i) => Math.sin(i * i));
  const fourier = new RealFourier(n);
  const back = fourier.inverse(fourier.forward(x));
  expect(back).toHaveLength(n);
  expect(back.reduce((worst, value, i) => Math.max(worst, Math.abs(value - x[i])), 0)).toBeLessThan(1e-14);
});

test('results are the caller’s own: the next transform leaves them alone', () => {
  const fourier = new RealFourier(4);
  const first = fourier.forward([1, 0, 0, 0]);
  fourier.forward(Float32Array.of(0, 5, 0, 0));
  expect(Array.from(first, (value) => value + 0)).toEqual([1, 0, 1, 0, 1, 0]);
});

test('cross-correlation agrees with the sum that defines it, and peaks where the shape is', () => {
  const fourier = new RealFourier(64);
  const lags = (a: readonly number[], b: readonly number[]) => {
    const [x, y] = [a, b].map((values) => fourier.forward(padded(Float64Array.from(values), 64)));
    const r = correlated(x, y, fourier);
    return (lag: number) => r[(lag + 64) % 64];
  };
  const list = fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 1, maxLength: 20 });
  fc.assert(
    fc.property(list, list, (a, b) => {
      const r = lags(a, b);
      for (let lag = 1 - b.length; lag < a.length; lag++)
        expect(r(lag)).toBeCloseTo(
          b.reduce((sum, x, t) => sum + x * (a[t + lag] ?? 0), 0),
          10,
        );
    }),
    { seed: 2 },
  );
  const r = lags([0, 0, 0, 1, 2, 0], [1, 2]);
  expect([-1, 0, 1, 2, 3, 4, 5].reduce((best, lag) => (r(lag) > r(best) ? lag : best))).toBe(3);
});
