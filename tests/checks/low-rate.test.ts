import { expect, test } from 'vitest';
import type { Study } from '../../analysis/checks/check.ts';
import { lowRate } from '../../analysis/checks/low-rate.ts';
import { trackOf } from '../rig/take.ts';

test('a track below 16 kHz is named, others are not', () => {
  const tracks = [8000, 16_000, 192_000].map((rate) =>
    trackOf(new Float32Array(1), rate, [0], `${rate}.wav`),
  );
  const found = lowRate.run({ take: { tracks } } as unknown as Study);
  expect(found).toMatchObject([
    { kind: 'low-rate', severity: 'warning', file: '8000.wav', place: 'track 0' },
  ]);
  expect(found[0].message).toContain('8000 samples a second');
});
