import { expect, test } from 'vitest';
import { wanderSeen } from '../../analysis/strokes/wander.ts';

test('halfway between two knots a straight line misses h³/48 of a unit’s wander', () => {
  // Integrated Wiener process seen exactly at 0 and h: Var at the middle of the line through both is ∫g², g the hat
  // of height h/4… by hand, 2·∫₀^{h/2} (u/2)² du = h³/48.
  const h = 4;
  const seen = wanderSeen(Float64Array.of(0, h), [0, 1], Float64Array.of(0.5, 0.5), [h / 2], [1]);
  expect(seen).toBeCloseTo(h ** 3 / 48, 12);
});

test('what is asked where it is seen misses nothing', () => {
  expect(wanderSeen(Float64Array.of(0, 1, 5), [0, 1, 2], Float64Array.of(0, 1, 0), [1], [1])).toBe(0);
});
