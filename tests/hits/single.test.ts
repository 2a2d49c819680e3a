// A single strike in a recorder's noise, from 8 kHz up: one hit, where it was, and nothing where the file's noise begins.
import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { place, soundFrom } from '../../samples/place.ts';
import { addNoise } from '../../samples/record.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { takeOf, trackOf } from '../rig/take.ts';
import { machineOf } from './synthetic.ts';

/** A drum head's five lowest modes (ideal circular membrane), each with its own phase; −30 dB over its first 50 ms or so. */
function drum(sampleRate: number, hz: number, random: Random) {
  const modes = [1, 1.594, 2.136, 2.653, 3.155].map((ratio, k) => ({
    w: 2 * Math.PI * hz * ratio,
    phase: random.between(0, 2 * Math.PI),
    k,
  }));
  const samples = Float32Array.from({ length: Math.round(0.8 * sampleRate) }, (_, i) => {
    const t = i / sampleRate - 0.002;
    if (t < 0) return 0;
    const tone = modes.reduce(
      (sum, { w, phase, k }) => sum + (Math.sin(w * t + phase) / (1 + k)) * Math.exp((-t * (1 + k)) / 0.12),
      0,
    );
    return 0.07 * tone * (1 - Math.exp(-t / 0.0002));
  });
  return soundFrom('drum', samples, sampleRate);
}

test.each([8000, 48_000, 192_000])('at %i Hz', async (sampleRate) => {
  const machine = machineOf(1);
  for (const seed of [1, 2, 3]) {
    const random = seededRandom(seed);
    const samples = new Float32Array(1.5 * sampleRate);
    place(samples, sampleRate, drum(sampleRate, random.between(200, 280), random), 0.70001);
    addNoise(samples, 10 ** (-70 / 20), random);
    const { hits, onsetSdS } = await hear(takeOf(machine, [trackOf(samples, sampleRate, [0])]), machine, {});
    expect(hits.timeS, `seed ${seed}`).toHaveLength(1);
    expect(Math.abs(hits.timeS[0] - 0.70001)).toBeLessThan(0.0005);
    if (sampleRate < 16_000) expect(Math.abs(hits.timeS[0] - 0.70001)).toBeLessThan(1.96 * onsetSdS![0]);
  }
});
