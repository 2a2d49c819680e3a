import { expect, test } from 'vitest';
import { seededRandom, xoshiro128 } from '../../samples/random.ts';

test('xoshiro128** gives the outputs of its authors’ C code from state 1, 2, 3, 4', () => {
  // Test vector of the rand_xoshiro crate (xoshiro128starstar.rs), made with the authors’ C code, version 1.1.
  const next = xoshiro128(Uint32Array.of(1, 2, 3, 4));
  const first = [
    11520, 0, 5927040, 70819200, 2031721883, 1637235492, 1287239034, 3734860849, 3729100597, 4258142804,
  ];
  expect(first.map(() => next())).toEqual(first);
});

test('the same seed gives the same stream; another seed or part another', () => {
  const draw = (random = seededRandom(7)) => Array.from({ length: 5 }, () => random.uniform());
  expect(draw()).toEqual(draw());
  expect(draw(seededRandom(8))).not.toEqual(draw());
  expect(draw(seededRandom(7).split('noise'))).not.toEqual(draw());
  expect(draw(seededRandom(7).split('noise'))).toEqual(draw(seededRandom(7).split('noise')));
});

test('uniform and normal have the moments they should, seed 1', () => {
  const random = seededRandom(1);
  const n = 200_000;
  const moments = (values: number[]) => {
    const mean = values.reduce((a, b) => a + b) / n;
    return [mean, values.reduce((sum, x) => sum + (x - mean) ** 2, 0) / n];
  };
  const uniform = moments(Array.from({ length: n }, () => random.uniform()));
  const normal = moments(Array.from({ length: n }, () => random.normal()));
  // Five standard errors: 5·0.289/√n, and 5·√(1/180/n), 5/√n, 5·√(2/n).
  expect(Math.abs(uniform[0] - 0.5)).toBeLessThan(0.0033);
  expect(Math.abs(uniform[1] - 1 / 12)).toBeLessThan(0.00084);
  expect(Math.abs(normal[0])).toBeLessThan(0.0112);
  expect(Math.abs(normal[1] - 1)).toBeLessThan(0.0159);
});

test('shuffle keeps every element and leaves its input alone', () => {
  const from = [1, 2, 3, 4, 5, 6, 7, 8];
  const out = seededRandom(3).shuffle(from);
  expect(out).not.toEqual(from);
  expect([...out].sort()).toEqual(from);
  expect(from).toEqual([1, 2, 3, 4, 5, 6, 7, 8]);
});
