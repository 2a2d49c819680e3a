import { Matrix, inverse, determinant } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { likeliestSpline, smoothingSpline } from '../../analysis/numbers/spline.ts';
import { seededRandom } from '../../samples/random.ts';

const x = Float64Array.of(0, 1, 2.5, 3, 5, 6.2, 7);
const y = Float64Array.of(1, 0.2, 2.2, 2.9, 1.1, 0.3, 4);
const variance = Float64Array.of(0.1, 0.2, 0.05, 0.3, 0.1, 0.1, 0.2);
const wander = 0.7;

/** Covariance of a unit integrated Wiener process from 0 (Wahba 1978): ∫(s − u)₊(t − u)₊ du. */
function covariance(s: number, t: number): number {
  const low = Math.min(s, t);
  return (low * low * (3 * Math.max(s, t) - low)) / 6;
}

/** The same guess by the full matrices of universal kriging: slow, and written from the definition alone. */
function krige(at: number): { value: number; weights: number[] } {
  const n = x.length;
  const k = Matrix.from1DArray(
    n,
    n,
    Array.from({ length: n * n }, (_, c) => {
      const [i, j] = [Math.floor(c / n), c % n];
      return wander * covariance(x[i], x[j]) + (i === j ? variance[i] : 0);
    }),
  );
  const big = Matrix.zeros(n + 2, n + 2);
  big.setSubMatrix(k, 0, 0);
  for (let i = 0; i < n; i++) {
    big.set(i, n, 1);
    big.set(n, i, 1);
    big.set(i, n + 1, x[i]);
    big.set(n + 1, i, x[i]);
  }
  const right = Matrix.columnVector([...Array.from(x, (xi) => wander * covariance(xi, at)), 1, at]);
  const weights = inverse(big).mmul(right).to1DArray().slice(0, n);
  return { value: weights.reduce((sum, w, i) => sum + w * y[i], 0), weights };
}

describe('smoothingSpline', () => {
  const spline = smoothingSpline(x, y, variance, wander);

  test('is universal kriging of an integrated Wiener process, between and at the knots', () => {
    for (const at of [0, 0.4, 1, 2.7, 4, 6.2, 6.9, 7]) expect(spline.at(at)).toBeCloseTo(krige(at).value, 9);
  });
  test('is straight beyond its ends', () => {
    expect(spline.at(9) - spline.at(8)).toBeCloseTo(spline.at(8) - spline.at(7), 9);
    expect(spline.at(-1) - spline.at(-2)).toBeCloseTo(spline.at(0) - spline.at(-1), 9);
    expect(spline.slopeAt(9)).toBeCloseTo(spline.at(9) - spline.at(8), 9);
    expect(spline.at(8)).toBeCloseTo(krige(8).value, 9);
  });
  test('its weights are its derivatives, inside and beyond', () => {
    for (const points of [[2.7], [0, 7], [-2, 3, 9]]) {
      const share = points.map(() => 1 / points.length);
      const weights = spline.weights(points, share);
      const value = points.reduce((sum, point, k) => sum + share[k] * spline.at(point), 0);
      expect(weights.reduce((sum, w, i) => sum + w * y[i], 0)).toBeCloseTo(value, 9);
    }
    const { weights } = krige(2.7);
    spline.weights([2.7], [1]).forEach((w, i) => expect(w).toBeCloseTo(weights[i], 9));
  });
  test('its likelihood is that of the second differences, by determinant and inverse', () => {
    const m = x.length - 2;
    const q = Matrix.zeros(x.length, m);
    for (let j = 0; j < m; j++) {
      const [a, b] = [1 / (x[j + 1] - x[j]), 1 / (x[j + 2] - x[j + 1])];
      q.set(j, j, a);
      q.set(j + 1, j, -a - b);
      q.set(j + 2, j, b);
    }
    const n = x.length;
    const k = Matrix.zeros(n, n);
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++) k.set(i, j, wander * covariance(x[i], x[j]) + (i === j ? variance[i] : 0));
    const all = q.transpose().mmul(k).mmul(q);
    const z = q.transpose().mmul(Matrix.columnVector(Array.from(y)));
    const square = z.transpose().mmul(inverse(all)).mmul(z).get(0, 0);
    expect(spline.chiSquare).toBeCloseTo(square, 8);
    expect(spline.logLikelihood).toBeCloseTo(-0.5 * (Math.log(determinant(all)) + square), 8);
  });
  test('without wander it is the weighted straight line', () => {
    const line = smoothingSpline(Float64Array.of(0, 1, 2, 3), [1, 3, 5, 7], [1, 2, 3, 4], 0);
    expect(line.at(1.5)).toBeCloseTo(4, 9);
    expect(line.chiSquare).toBeCloseTo(0, 12);
  });
  test('through two knots it is their line', () => {
    const line = smoothingSpline(Float64Array.of(0, 2), [1, 5], [1, 1], 1);
    expect([line.at(1), line.at(4)]).toEqual([3, 9]);
  });
});

describe('likeliestSpline', () => {
  const random = seededRandom(12);
  const at = Float64Array.from({ length: 400 }, (_, i) => i);

  test('finds the noise of a wave', () => {
    const seen = at.map((t) => Math.sin(t / 30) + 0.05 * random.normal());
    const { spline, noiseVariance } = likeliestSpline(at, seen, new Float64Array(400).fill(1), 1e-12);
    expect(Math.sqrt(noiseVariance)).toBeGreaterThan(0.045);
    expect(Math.sqrt(noiseVariance)).toBeLessThan(0.055);
    const rms = Math.sqrt(at.reduce((sum, t) => sum + (spline.at(t) - Math.sin(t / 30)) ** 2, 0) / 400);
    expect(rms).toBeLessThan(0.02);
  });
  test('takes noise about a line for noise about a line', () => {
    const seen = at.map((t) => 2 + 0.5 * t + random.normal());
    const { spline } = likeliestSpline(at, seen, new Float64Array(400).fill(1), 1e-12);
    for (const t of [0, 200, 399]) expect(Math.abs(spline.at(t) - 2 - 0.5 * t)).toBeLessThan(0.35);
  });
});
