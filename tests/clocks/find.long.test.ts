/** When each file of a take began and how its recorder's clock ran, found in rooms of image sources (tests/rig/recorders.ts). */
import { expect, test } from 'vitest';
import { findClocks } from '../../analysis/clocks/find.ts';
import { recordedTake, type Apart } from '../rig/recorded.ts';

const clockOf = async (how: Apart) =>
  (await findClocks(recordedTake({ turns: 2, ...how }).take.tracks, {}))[1];

const apart: [startS: number, ppm: number, bleedDb: number][] = [
  [0.04, 30, -20],
  [0.4, 100, -30],
  [5, -30, -40],
  [-0.7, 100, -40],
];
for (const [i, [startS, ppm, bleedDb]] of apart.entries()) {
  test(`${startS} s apart, ${ppm} ppm, bleed of ${bleedDb} dB: the interval holds, and is narrow`, async () => {
    const clock = await clockOf({ startS, ppm, bleedDb, seed: 10 + i });
    expect(clock.how).toBe('found');
    const errorS = clock.startS - startS;
    expect(Math.abs(errorS)).toBeLessThan(0.0001);
    expect(Math.abs(errorS)).toBeLessThan(2 * clock.startSdS);
    expect(clock.startSdS).toBeLessThan(0.0005);
    // A clock that counts more has shorter seconds.
    const ppmError = Math.abs(1e6 * (1 / (1 + clock.drift) - 1) - ppm);
    expect(ppmError).toBeLessThan(2);
    expect(ppmError).toBeLessThan(3e6 * clock.driftSd);
  });
}

test('a beat off explains the strikes worse than the right lag, however the pieces agree: never found wrongly', async () => {
  const clock = await clockOf({ startS: 0.4, ppm: 100, bleedDb: -40, seed: 33 });
  expect(['found', 'unknown']).toContain(clock.how);
  if (clock.how === 'found') expect(Math.abs(clock.startS - 0.4)).toBeLessThan(0.0005);
  else expect(clock.startSdS).toBeNaN();
});

test('files that began together are in step, whatever the air between their microphones does', async () => {
  expect(await clockOf({ startS: 0, ppm: 0, bleedDb: -20, seed: 20 })).toMatchObject({
    how: 'in-step',
    startS: 0,
    startSdS: 0,
    drift: 0,
  });
});

test('microphones that do not hear each other: it cannot be told, unless the files are of one length', async () => {
  expect(await clockOf({ startS: 0.4, ppm: 30, bleedDb: -Infinity, seed: 21 })).toMatchObject({
    how: 'unknown',
    startSdS: NaN,
  });
  expect(await clockOf({ startS: 0, ppm: 0, bleedDb: -Infinity, seed: 22 })).toMatchObject({ how: 'said' });
});

test('a machine that never varies, unheard from the other side: coincident strikes are no beginning', async () => {
  const how = { startS: 0.4, ppm: 30, bleedDb: -Infinity, seed: 23, repeatabilityMs: 0.001 };
  const clock = await clockOf(how);
  expect(clock.how === 'unknown' || clock.startSdS > 0.003).toBe(true);
});
