import { describe, expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import type { Hits } from '../../analysis/hits/hits.ts';
import type { Take, Track } from '../../analysis/take/take.ts';
import { usualColour } from '../../samples/colour.ts';
import { seededRandom } from '../../samples/random.ts';
import { score } from '../rig/score.ts';
import { takeOf, trackOf } from '../rig/take.ts';
import { machineOf, strikesEvery, struck, takeOfSounds } from './synthetic.ts';

const timesOf = (hits: Hits, channel: number) =>
  [...hits.timeS].filter((_, i) => hits.channel[i] === channel);

const block = struck(900, 0.12);
const drum = struck(110, 0.25);
const strikes = [...strikesEvery(0.4, 16, 0, 2), ...strikesEvery(0.43, 15, 1, 3)];

describe('one channel a track', () => {
  test('identical strikes: every one, none else, exact to 3 µs, and both channels by one clock', async () => {
    const { take, machine } = takeOfSounds([block, drum], strikes);
    const { hits } = await hear(take, machine, {});
    const scores = [0, 1].map((c) =>
      score(
        strikes.filter((s) => s.channel === c).map((s) => s.timeS),
        timesOf(hits, c),
      ),
    );
    for (const { f1, spreadUs } of scores) {
      expect(f1).toBe(1);
      expect(spreadUs).toBeLessThan(3);
    }
    expect(Math.abs(scores[0].biasMs - scores[1].biasMs)).toBeLessThan(0.3);
  });

  test('strikes in other gains and colours: exact to 10 µs', async () => {
    const { take, machine } = takeOfSounds([block, drum], strikes, { gainDb: 4, colour: usualColour });
    const { hits } = await hear(take, machine, {});
    for (const c of [0, 1]) {
      const played = strikes.filter((s) => s.channel === c).map((s) => s.timeS);
      const { f1, spreadUs } = score(played, timesOf(hits, c));
      expect(f1).toBe(1);
      expect(spreadUs).toBeLessThan(10);
    }
  });

  test('a neighbour’s bleed is no hit', async () => {
    const { take, machine } = takeOfSounds([block, drum], strikes, { bleed: { db: -12, delayS: 0.002 } });
    const { hits } = await hear(take, machine, {});
    for (const c of [0, 1]) {
      const played = strikes.filter((s) => s.channel === c).map((s) => s.timeS);
      expect(score(played, timesOf(hits, c)).f1).toBe(1);
    }
  });

  test('its uncertainties cover the errors', async () => {
    const { take, machine } = takeOfSounds([drum], strikesEvery(0.4, 30, 0, 5), { snrDb: 15 });
    const { hits } = await hear(take, machine, {});
    const played = strikesEvery(0.4, 30, 0, 5).map((s) => s.timeS);
    const { errorsS, biasMs } = score(played, [...hits.timeS]);
    expect(errorsS).toHaveLength(30);
    const within = errorsS.filter((e, i) => Math.abs(e - biasMs / 1000) < 2 * hits.timeSdS[i]).length;
    // 95 % are due; 30 strikes let chance take it to 24.
    expect(within).toBeGreaterThanOrEqual(24);
    const rms = Math.sqrt(errorsS.reduce((sum, e) => sum + (e - biasMs / 1000) ** 2, 0) / 30);
    const claimed = Math.sqrt(hits.timeSdS.reduce((sum, s) => sum + s * s, 0) / 30);
    expect(claimed / rms).toBeGreaterThan(0.5);
    expect(claimed / rms).toBeLessThan(3);
  });
});

describe('what must not matter', () => {
  const own = strikes.filter((s) => s.channel === 0);

  async function heardOf(change: (track: Track) => Track) {
    const { take, machine } = takeOfSounds([block], own);
    return hear({ ...take, tracks: take.tracks.map(change) }, machine, {});
  }
  const scaled = (by: number, plus = 0) =>
    heardOf((track) => ({
      ...track,
      read: async (from, to) => (await track.read(from, to)).map((x) => by * x + plus),
    }));

  test('gain, polarity and a constant move no hit', async () => {
    const plain = await heardOf((track) => track);
    for (const { hits } of [await scaled(0.01), await scaled(-1), await scaled(1, 0.1)]) {
      expect(hits.count).toBe(plain.hits.count);
      hits.timeS.forEach((t, i) => expect(Math.abs(t - plain.hits.timeS[i])).toBeLessThan(1e-6));
    }
  });

  test('a later start moves every hit by as much', async () => {
    const plain = await heardOf((track) => track);
    const shift = 1234;
    const { hits } = await heardOf((track) => ({
      ...track,
      length: track.length - shift,
      read: (from, to) => track.read(from + shift, to + shift),
    }));
    expect(hits.count).toBe(plain.hits.count);
    hits.timeS.forEach((t, i) =>
      expect(Math.abs(t + shift / 48_000 - plain.hits.timeS[i])).toBeLessThan(2e-6),
    );
  });

  test.each([1, 1000, 100_000])('reads in pieces of %i samples give the same, bit for bit', async (piece) => {
    const plain = await heardOf((track) => track);
    const cut = await heardOf((track) => ({
      ...track,
      async read(from, to) {
        const out = new Float32Array(to - from);
        for (let at = from; at < to; at += piece)
          out.set(await track.read(at, Math.min(to, at + piece)), at - from);
        return out;
      },
    }));
    expect(cut).toEqual(plain);
  });

  test('the order of tracks changes no time', async () => {
    const { take, machine } = takeOfSounds([block, drum], strikes);
    const one = await hear(take, machine, {});
    const other = await hear({ ...take, tracks: [...take.tracks].reverse() }, machine, {});
    expect(other.hits.timeS).toEqual(one.hits.timeS);
    expect(other.hits.channel).toEqual(one.hits.channel);
  });
});

describe('little or spoilt', () => {
  const silent = (length: number) => trackOf(new Float32Array(length), 48_000, [0]);
  const takeWith = (...tracks: Track[]): Take => takeOf(machineOf(1), tracks);

  test('nothing gives nothing', async () => {
    expect((await hear(takeWith(), machineOf(1), {})).hits.count).toBe(0);
    expect((await hear(takeWith(silent(0)), machineOf(1), {})).hits.count).toBe(0);
    const { hits, tracks } = await hear(takeWith(silent(48_000)), machineOf(1), {});
    expect(hits.count).toBe(0);
    expect(tracks).toEqual([{ noiseDb: -Infinity, clippedSamples: 0, badSamples: 0, soundsStarted: 0 }]);
  });

  test('what stands clear of the background is counted, hit or none: noise is not, nor that it begins', async () => {
    const noise = seededRandom(3);
    const samples = Float32Array.from({ length: 96_000 }, () => noise.between(-1, 1) / 32_768);
    const count = async () => {
      const { hits, tracks } = await hear(takeWith(trackOf(samples, 48_000, [0, 1])), machineOf(2), {});
      return [hits.count, tracks[0].soundsStarted];
    };
    expect(await count()).toEqual([0, 0]);
    for (let i = 0; i < 9600; i++) samples[48_000 + i] += 0.5 * Math.exp(-i / 1500) * Math.sin(0.1 * i);
    expect(await count()).toEqual([0, 1]);
  });

  test('one hit is heard, with a time and an uncertainty', async () => {
    const { take, machine } = takeOfSounds([block], strikesEvery(0.4, 1, 0, 2), { snrDb: 40 });
    const { hits } = await hear(take, machine, {});
    expect(hits.count).toBe(1);
    expect(Math.abs(hits.timeS[0] - strikesEvery(0.4, 1, 0, 2)[0].timeS)).toBeLessThan(0.0005);
    expect(hits.timeSdS[0]).toBeGreaterThan(0);
  });

  test('samples that are not finite are counted and taken as 0', async () => {
    const { samples } = takeOfSounds([block], strikesEvery(0.4, 6, 0, 2));
    samples[0].set([NaN, Infinity, -Infinity], 100);
    const { hits, tracks } = await hear(takeWith(trackOf(samples[0], 48_000, [0])), machineOf(1), {});
    expect(tracks[0].badSamples).toBe(3);
    expect(hits.count).toBe(6);
    expect(hits.timeS.every(Number.isFinite)).toBe(true);
  });

  test.each([8_000, 192_000])('at %i Hz', async (sampleRate) => {
    const { take, machine } = takeOfSounds([struck(500, 0.1, sampleRate)], strikesEvery(0.4, 8, 0, 2));
    const { hits } = await hear(take, machine, {});
    const { f1, spreadUs } = score(
      strikesEvery(0.4, 8, 0, 2).map((s) => s.timeS),
      [...hits.timeS],
    );
    expect(f1).toBe(1);
    expect(spreadUs).toBeLessThan(10);
  });

  test('stops with the signal’s reason', async () => {
    const { take, machine } = takeOfSounds([block], strikesEvery(0.4, 4, 0, 2));
    await expect(hear(take, machine, { signal: AbortSignal.abort('enough') })).rejects.toBe('enough');
  });
});
