import fc from 'fast-check';
import { expect, test } from 'vitest';
import { match, score } from './score.ts';

test('by hand: one hit exact, one 2 ms late, one missed, one invented', () => {
  const result = score([1, 2, 3], [1, 2.002, 4]);
  expect(result).toMatchObject({ played: 3, heard: 3, matched: 2 });
  expect(result.f1).toBeCloseTo(4 / 6, 12);
  expect(result.biasMs).toBeCloseTo(1, 9);
  expect(result.spreadUs).toBeCloseTo(1e6 * 0.002 * Math.SQRT1_2, 6);
});

test('two hits near one strike count once; a greedy pairing from the left would lose one', () => {
  expect(score([1], [0.999, 1.001]).matched).toBe(1);
  expect(match([1, 1.004], [0.996, 1.001], 0.005)).toEqual([
    [0, 0],
    [1, 1],
  ]);
});

test('the pairing is the best of all pairings, tried one by one', () => {
  const times = fc
    .array(fc.integer({ min: 0, max: 20 }), { maxLength: 6 })
    .map((list) => list.map((x) => x / 1000).sort((x, y) => x - y));
  /** Most pairs first, then least total distance, over every one-to-one pairing. */
  const best = (a: readonly number[], b: readonly number[]): [number, number] => {
    if (a.length === 0) return [0, 0];
    let top = best(a.slice(1), b);
    b.forEach((x, j) => {
      if (Math.abs(x - a[0]) > 0.005) return;
      const [pairs, cost] = best(
        a.slice(1),
        b.filter((_, k) => k !== j),
      );
      const here: [number, number] = [pairs + 1, cost + Math.abs(x - a[0])];
      if (here[0] > top[0] || (here[0] === top[0] && here[1] < top[1])) top = here;
    });
    return top;
  };
  fc.assert(
    fc.property(times, times, (a, b) => {
      const pairs = match(a, b, 0.005);
      const [count, cost] = best(a, b);
      expect(pairs).toHaveLength(count);
      expect(pairs.reduce((sum, [i, j]) => sum + Math.abs(a[i] - b[j]), 0)).toBeCloseTo(cost, 9);
      expect(new Set(pairs.map(([i]) => i)).size).toBe(count);
      expect(new Set(pairs.map(([, j]) => j)).size).toBe(count);
    }),
    { seed: 4 },
  );
});
