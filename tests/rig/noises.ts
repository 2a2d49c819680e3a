/**
 * Strikers that never sound the same twice: rattle, brush, shaker, cymbal. Each strike is new noise; only its envelope
 * and its colour repeat. Made by formulas of their own, with nothing of what hearing learns.
 */
import type { Machine } from '../../analysis/machine/machine.ts';
import { atFraction, mix, type Sound } from '../../samples/place.ts';
import type { Strike } from '../../samples/play.ts';
import { addNoise } from '../../samples/record.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { takeOf, trackOf } from './take.ts';
import { strikePower } from './recordings.ts';

export interface NoiseKind {
  readonly name: string;
  /** Time constants of the rise and the fall, s. */
  readonly riseS: number;
  readonly fallS: number;
  /** Second-order high-pass and low-pass, Hz. */
  readonly fromHz: number;
  readonly toHz: number;
  /** Impacts a second where the sound is grains, not a hiss. */
  readonly grainsPerS?: number;
}

/** Attacks and colours as one hears them; common practice, no source. */
export const noiseKinds = {
  rattle: { name: 'rattle', riseS: 0.001, fallS: 0.03, fromHz: 700, toHz: 9000, grainsPerS: 2500 },
  brush: { name: 'brush', riseS: 0.003, fallS: 0.07, fromHz: 1500, toHz: 12_000 },
  shaker: { name: 'shaker', riseS: 0.006, fallS: 0.03, fromHz: 3000, toHz: 14_000 },
  cymbal: { name: 'cymbal', riseS: 0.0005, fallS: 0.2, fromHz: 2500, toHz: 16_000 },
} satisfies Record<string, NoiseKind>;

/** One strike, its onset at the instant at which its envelope leaves zero; rms of the first 50 ms is 10^(−30/20). */
export function noiseStrike(kind: NoiseKind, sampleRate: number, random: Random): Sound {
  const lead = 16;
  const length = Math.round(Math.min(0.6, 6 * kind.fallS + 4 * kind.riseS) * sampleRate);
  const perSample = (kind.grainsPerS ?? Infinity) / sampleRate;
  const raw = Float64Array.from({ length }, (_, i) => {
    const t = i / sampleRate;
    const envelope = (1 - Math.exp(-t / kind.riseS)) * Math.exp(-t / kind.fallS);
    const sounds = random.uniform() < perSample;
    return sounds ? envelope * random.normal() : 0;
  });
  const shaped = pass(pass(raw, kind.fromHz, sampleRate, true), kind.toHz, sampleRate, false);
  const samples = new Float32Array(lead + length);
  samples.set(shaped, lead);
  const sound = { name: kind.name, samples, sampleRate, onset: lead };
  const scale = 10 ** (-30 / 20) / Math.sqrt(strikePower(sound));
  return { ...sound, samples: samples.map((x) => scale * x) };
}

/** Butterworth of the second order (bilinear transform; R. Bristow-Johnson's cookbook, from memory). Looks only back. */
function pass(x: Float64Array, hz: number, sampleRate: number, high: boolean): Float64Array {
  if (hz >= 0.48 * sampleRate) return x;
  const w = (2 * Math.PI * hz) / sampleRate;
  const alpha = Math.sin(w) / Math.SQRT2;
  const a0 = 1 + alpha;
  const b1 = (high ? -(1 + Math.cos(w)) : 1 - Math.cos(w)) / a0;
  const b0 = (high ? -b1 : b1) / 2;
  const a1 = (-2 * Math.cos(w)) / a0;
  const a2 = (1 - alpha) / a0;
  const y = new Float64Array(x.length);
  for (let i = 0; i < x.length; i++)
    y[i] = b0 * (x[i] + (x[i - 2] ?? 0)) + b1 * (x[i - 1] ?? 0) - a1 * (y[i - 1] ?? 0) - a2 * (y[i - 2] ?? 0);
  return y;
}

export interface StrikesOptions {
  readonly sampleRate: number;
  readonly durationS: number;
  readonly strikes: readonly Strike[];
  /** For each channel, how a strike of it sounds. */
  readonly soundOf: readonly ((random: Random) => Sound)[];
  /** Channels on each track. */
  readonly tracks: readonly (readonly number[])[];
  readonly snrDb: number;
  readonly gainDb: number;
  /** What other tracks hear of a strike; absent: nothing. */
  readonly bleedDb?: number;
  readonly seed: number;
}

/** A take in which every strike is made anew. Noise lies `snrDb` below a strike's first 50 ms. */
export function takeOfStrikes(machine: Machine, options: StrikesOptions) {
  const { sampleRate, strikes, soundOf, tracks, snrDb, gainDb, bleedDb, seed } = options;
  const random = seededRandom(seed);
  const samples = tracks.map(() => new Float32Array(Math.round(options.durationS * sampleRate)));
  for (const { timeS, channel } of strikes) {
    const placed = atFraction(soundOf[channel](random), sampleRate, timeS);
    const gain = 10 ** (random.between(-gainDb, gainDb) / 20);
    samples.forEach((track, t) => {
      if (tracks[t].includes(channel)) mix(track, placed.samples, placed.from, gain);
      else if (bleedDb !== undefined)
        mix(track, placed.samples, placed.from + Math.round(0.002 * sampleRate), gain * 10 ** (bleedDb / 20));
    });
  }
  const noise = seededRandom(seed + 1);
  for (const track of samples) addNoise(track, 10 ** (-(30 + snrDb) / 20), noise);
  const take = takeOf(
    machine,
    samples.map((track, t) => trackOf(track, sampleRate, tracks[t], `track-${t}.wav`)),
  );
  return { take, samples };
}
