/** Sounds that do not repeat: every strike new noise, made by formulas of its own (tests/rig/noises.ts). */
import { describe, expect, test } from 'vitest';
import type { Random } from '../../samples/random.ts';
import { noiseKinds, noiseStrike, type NoiseKind } from '../rig/noises.ts';
import { measureSounds } from '../rig/sound-takes.ts';
import { struck } from './synthetic.ts';

const sampleRate = 48_000;
const block = struck(900, 0.12);
const drum = struck(300, 0.2);
const strikesOf = (kind: NoiseKind) => (random: Random) => noiseStrike(kind, sampleRate, random);

describe('a striker that never sounds the same twice, 30 dB above the noise', () => {
  test('on a track of its own: 98 % used, group means within 0.5 ms, no hit made up', async () => {
    const [, brush] = await measureSounds({
      soundOf: [() => block, strikesOf(noiseKinds.brush)],
      tracks: [[0], [1]],
      snrDb: 30,
      turns: 2,
      seed: 3,
    });
    expect(brush.usedPercent).toBeGreaterThanOrEqual(98);
    expect(brush.invented).toBe(0);
    expect(brush.worstGroupMs).toBeLessThan(0.5);
    expect(brush.onsetSdMs).toBeGreaterThan(0.03);
  });

  test('before one microphone with two sharp strikers: 95 % used, means within 0.8 ms, the sharp ones as before', async () => {
    const [reference, sharp, shaker] = await measureSounds({
      soundOf: [() => block, () => drum, strikesOf(noiseKinds.shaker)],
      tracks: [[0, 1, 2]],
      snrDb: 30,
      density: 0.2,
      turns: 2,
      seed: 4,
    });
    expect(shaker.usedPercent).toBeGreaterThanOrEqual(95);
    expect(shaker.worstGroupMs).toBeLessThan(0.8);
    for (const { usedPercent, invented, spreadUs } of [reference, sharp]) {
      expect(usedPercent).toBe(100);
      expect(invented).toBe(0);
      expect(spreadUs).toBeLessThan(20);
    }
  });
});
