import { expect, test } from 'vitest';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { soundFrom } from '../../samples/place.ts';
import { rigMachine } from './machine.ts';
import { makeTake } from './take.ts';

const machine = rigMachine({ channels: ['block', 'gong'], seed: 1 });
const click = soundFrom(
  'click',
  Float32Array.from({ length: 400 }, (_, i) => 0.5 * Math.exp(-i / 60) * Math.cos(i / 3)),
  8000,
);
const { strikes, durationS } = play(machine, {}, { bpm: 120, turns: 1 }, seededRandom(1));
const base = { sampleRate: 8000, durationS, strikes, sounds: [[click], [click]], snrDb: Infinity, seed: 2 };

test('each channel sounds on its own track, from its onset and not before', () => {
  const { samples, take } = makeTake(machine, { ...base, tracks: [[0], [1]] });
  expect(take.tracks.map((track) => track.channels)).toEqual([[0], [1]]);
  const first = strikes.find((strike) => strike.channel === 1)!;
  const at = Math.ceil(first.timeS * 8000);
  expect(Math.abs(samples[1][at])).toBeGreaterThan(0.1);
  expect(samples[1].subarray(0, at - 33).every((x) => x === 0)).toBe(true);
});

test('the noise is as far below a strike’s first 50 ms as asked, and one track holds what two held', async () => {
  const apart = makeTake(machine, { ...base, tracks: [[0], [1]] });
  const together = makeTake(machine, { ...base, tracks: [[0, 1]] });
  together.samples[0].forEach((x, i) =>
    expect(Math.abs(x - apart.samples[0][i] - apart.samples[1][i])).toBeLessThan(1e-6),
  );
  const noisy = makeTake(machine, { ...base, snrDb: 30, tracks: [[0, 1]] });
  const noise = noisy.samples[0].map((x, i) => x - together.samples[0][i]);
  const power = click.samples.reduce((sum, x) => sum + x * x, 0) / 400;
  const found = 10 * Math.log10(power / (noise.reduce((sum, x) => sum + x * x, 0) / noise.length));
  expect(found).toBeCloseTo(30, 0);
  const part = await noisy.take.tracks[0].read(-2, 3);
  expect(Array.from(part)).toEqual([0, 0, ...noisy.samples[0].subarray(0, 3)]);
});

test('bleed arrives softer and later on the other track', () => {
  const dry = makeTake(machine, { ...base, tracks: [[0], [1]] });
  const wet = makeTake(machine, { ...base, tracks: [[0], [1]], bleed: { db: -20, delayS: 0.001 } });
  const extra = wet.samples[0].map((x, i) => x - dry.samples[0][i]);
  for (let i = 0; i < 2000; i++) expect(Math.abs(extra[i + 8] - 0.1 * dry.samples[1][i])).toBeLessThan(1e-6);
});

test('the same seed gives the same samples', () => {
  const make = () => makeTake(machine, { ...base, snrDb: 20, gainDb: 6, tracks: [[0, 1]] }).samples[0];
  expect(make()).toEqual(make());
});
