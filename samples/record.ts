/** Puts strikes on tracks: which sound, how loud, in what colour, and what the other microphones hear of it. */
import { coloured, type ColourRange } from './colour.ts';
import { atFraction, mix, type Sound } from './place.ts';
import type { Strike } from './play.ts';
import type { Random } from './random.ts';

export interface Recording {
  readonly sampleRate: number;
  readonly durationS: number;
  readonly strikes: readonly Strike[];
  /** Beside the machine's channels: the sounds each strike is drawn from; one sound makes identical strikes. */
  readonly sounds: readonly (readonly Sound[])[];
  /** Channel indices on each track. */
  readonly tracks: readonly (readonly number[])[];
  /** Strikes differ in level by up to ± this; 0 for identical ones. */
  readonly gainDb?: number;
  /** Strikes differ in colour; absent: they do not. */
  readonly colour?: ColourRange;
  /** Each strike is heard on the other tracks at this level, and later by the way between microphones. */
  readonly bleed?: { readonly db: number; readonly delayS: number };
}

/** @returns a track of samples for each of `tracks`, full scale ±1, without any noise */
export function record(recording: Recording, random: Random): Float32Array[] {
  const { sampleRate, durationS, strikes, sounds, tracks, gainDb = 0, colour, bleed } = recording;
  const samples = tracks.map(() => new Float32Array(Math.round(durationS * sampleRate)));
  const delay = Math.round((bleed?.delayS ?? 0) * sampleRate);
  for (const strike of strikes) {
    const plain = random.pick(sounds[strike.channel]);
    const gain = 10 ** (random.between(-gainDb, gainDb) / 20);
    const placed = atFraction(colour ? coloured(plain, random, colour) : plain, sampleRate, strike.timeS);
    samples.forEach((track, t) => {
      if (tracks[t].includes(strike.channel)) mix(track, placed.samples, placed.from, gain);
      else if (bleed) mix(track, placed.samples, placed.from + delay, gain * 10 ** (bleed.db / 20));
    });
  }
  return samples;
}

/** Adds white noise of this root mean square. */
export function addNoise(track: Float32Array, rms: number, random: Random): void {
  if (rms > 0) for (let i = 0; i < track.length; i++) track[i] += rms * random.normal();
}

/** Adds what a room with a motor in it sounds like: noise that falls with frequency, and hum with its harmonics. */
export function addRoom(
  track: Float32Array,
  sampleRate: number,
  room: { readonly noiseRms: number; readonly humRms: number; readonly humHz: number },
  random: Random,
): void {
  // One-pole low-pass at 400 Hz beside a tenth of white: rumble with some air. Scaled to the rms asked for.
  const pole = Math.exp((-2 * Math.PI * 400) / sampleRate);
  const white = 0.1;
  const scale = room.noiseRms / Math.sqrt((1 - pole) / (1 + pole) + white * white + 2 * white * (1 - pole));
  let low = 0;
  for (let i = 0; i < track.length; i++) {
    const x = random.normal();
    low = pole * low + (1 - pole) * x;
    track[i] += scale * (low + white * x);
  }
  for (const n of [1, 2, 3, 5])
    addTone(
      track,
      (2 * Math.PI * n * room.humHz) / sampleRate,
      room.humRms / n,
      random.between(0, 2 * Math.PI),
    );
}

/** Adds level·sin(step·i + phase), by the recurrence of a turning vector. */
function addTone(track: Float32Array, step: number, level: number, phase: number): void {
  const cos = 2 * Math.cos(step);
  let last = level * Math.sin(phase - step);
  let now = level * Math.sin(phase);
  for (let i = 0; i < track.length; i++) {
    track[i] += now;
    [last, now] = [now, cos * now - last];
  }
}
