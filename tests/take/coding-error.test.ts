/** What is said of lossy recordings: measured bounds by rate, in the beginnings' and strikes' standard deviations. */
import { expect, test } from 'vitest';
import { codingError, withCodingDoubts, withCodingErrors } from '../../analysis/hits/coding-error.ts';
import type { Group } from '../../analysis/results/results.ts';
import type { Coding } from '../../analysis/take/audio/coding.ts';
import type { Track } from '../../analysis/take/take.ts';
import { takeOf, trackOf } from '../rig/take.ts';
import { rigMachine } from '../rig/machine.ts';

const aac = (bitsPerSecond: number | null): Coding => ({
  codec: 'AAC',
  lossy: true,
  bitsPerSecond,
  startKnown: true,
});

test('fewer bits a track leave a beginning less sure; an unknown rate is the worst, no loss none', () => {
  const ms = (coding: Coding | undefined, tracks = 1) => 1000 * codingError(coding, tracks).onsetSdS;
  expect([ms(aac(64_000)), ms(aac(64_000), 2), ms(aac(128_000)), ms(aac(256_000))]).toEqual([
    0.9, 1.6, 0.4, 0.2,
  ]);
  expect(ms(aac(null))).toBe(1.6);
  expect(ms({ ...aac(null), lossy: false })).toBe(0);
  expect(ms(undefined)).toBe(0);
});

test('a channel on a lossy track is widened, one on a plain track is as it was', () => {
  const machine = rigMachine({ channels: ['a', 'b'], seed: 1 });
  const lossy: Track = { ...trackOf(new Float32Array(9), 48_000, [1], 'b.m4a'), coding: aac(64_000) };
  const take = takeOf(machine, [trackOf(new Float32Array(9), 48_000, [0], 'a.wav'), lossy]);
  const hearing = {
    hits: {
      count: 2,
      timeS: Float64Array.of(1, 2),
      timeSdS: Float64Array.of(1e-5, 4e-5),
      track: Int32Array.of(0, 1),
      channel: Int32Array.of(0, 1),
      levelDb: Float32Array.of(-6, -6),
      why: [null, null],
    },
    onsetSdS: Float64Array.of(1e-4, 1e-4),
    tracks: [],
  };
  const widened = withCodingErrors(hearing, take, 2);
  expect(widened.onsetSdS![0]).toBeCloseTo(1e-4, 9);
  expect(widened.onsetSdS![1]).toBeCloseTo(Math.hypot(1e-4, 9e-4), 9);
  expect(widened.hits.timeSdS[0]).toBeCloseTo(1e-5, 9);
  expect(widened.hits.timeSdS[1]).toBeCloseTo(5e-5, 9);
});

test('at 64 kbit/s a track a mean gets a doubt and no interval, at 128 it stays; the reference is doubted in the others', () => {
  const machine = rigMachine({ channels: ['a', 'b'], seed: 1 });
  const hits = { count: 2, channel: Int32Array.of(0, 1), track: Int32Array.of(0, 1) };
  const group = { channel: 'b', sector: null, count: 9, meanMs: 1, ci95Ms: 0.1 } as Group;
  const said = (of: Coding | undefined, track: number) => {
    const tracks = [0, 1].map((t) => ({
      ...trackOf(new Float32Array(9), 48_000, [t], `${t}.m4a`),
      ...(t === track && of ? { coding: of } : {}),
    }));
    return withCodingDoubts([group], hits, machine, takeOf(machine, tracks))[0];
  };
  for (const track of [0, 1]) {
    expect(said(aac(64_000), track).ci95Ms).toBeNull();
    expect(said(aac(64_000), track).doubt).toContain(`${track}.m4a`);
    expect(said(aac(128_000), track)).toEqual(group);
  }
  expect(said(aac(null), 1).ci95Ms).toBeNull();
  // WMA was 9.6 ms off at 96 kbit/s a track: no rate is known to be enough.
  const wma = said({ ...aac(400_000), codec: 'WMA' }, 1);
  expect(wma.ci95Ms).toBeNull();
  expect(wma.doubt).toBe(
    '1.m4a is coded with WMA, of which it is not known how far off its sounds may begin',
  );
  expect(said(undefined, 1)).toEqual(group);
});
