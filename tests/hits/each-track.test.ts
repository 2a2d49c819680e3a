import { expect, test } from 'vitest';
import { eachTrackOf } from '../../analysis/hits/each-track.ts';
import { takeOf, trackOf } from '../rig/take.ts';
import { rigMachine } from '../rig/machine.ts';

test('however often the tracks are heard, progress neither runs back nor past the end', async () => {
  const tracks = [300, 100].map((length) => trackOf(new Float32Array(length), 48_000, [0]));
  const told: number[] = [];
  const eachTrack = eachTrackOf(takeOf(rigMachine({ channels: ['only'], seed: 1 }), tracks), {
    progress: (_, fraction) => told.push(fraction),
  });
  const once = (t: number, progress: (fraction: number) => void) => {
    progress(0);
    progress(1);
    return Promise.resolve(t);
  };
  expect(await eachTrack(once)).toEqual([0, 1]);
  expect(told).toEqual([0, 0.1875, 0.1875, 0.25]);
  for (let again = 0; again < 5; again++) await eachTrack(once);
  expect(told).toEqual([...told].sort((a, b) => a - b));
  expect(told.at(-1)).toBeLessThanOrEqual(1);
});
