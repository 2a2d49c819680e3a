import { expect, test } from 'vitest';
import { measureSwell, type SwellTake } from '../rig/swells.ts';

const small = { sampleRate: 16_000, turns: 1 };

// Before a swell was heard over all its length, of the first nothing was used, of the second a third, 16.6 ms off at ±0.07.
test.each<[string, SwellTake]>([
  ['on a track of its own, 500 ms', { ...small, shape: 'sin²', swellMs: 500, shared: false, seed: 2 }],
  [
    'before one microphone with others, 200 ms',
    { ...small, shape: 'linear', swellMs: 200, shared: true, seed: 1 },
  ],
])('a swell is heard whole: %s', async (_, options) => {
  const { played, used, errorMs, ci95Ms, apartMs } = await measureSwell(options);
  expect(used).toBe(played);
  expect(apartMs).toBeLessThan(0.3);
  expect(Math.abs(errorMs)).toBeLessThan(ci95Ms);
});
