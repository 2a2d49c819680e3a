/** Somebody strikes each striker by hand, one after another, in a room with several microphones; made by geometry, not by the analysis. */
import { seededRandom, type Random } from '../../samples/random.ts';
import type { Sound } from '../../samples/place.ts';

export interface Session {
  readonly sampleRate: number;
  /** Of each striker in the order in which they are struck. */
  readonly sounds: readonly Sound[];
  /** For each striker, for each microphone, the way between them, m. */
  readonly metres: readonly (readonly number[])[];
  /** Of each microphone's preamplifier, dB. */
  readonly gainDb: readonly number[];
  /** Noise of each microphone beside a striker of usual loudness at a metre, dB. */
  readonly noiseDb: number;
  readonly strikes: number;
  readonly seed: number;
  /** Between two strikers, s. */
  readonly pauseS?: number;
  /** Something is knocked over so often before each striker. */
  readonly knocks?: number;
}

const soundMetresPerS = 343;

export function session({ sampleRate, sounds, metres, gainDb, noiseDb, seed, ...rest }: Session) {
  const { strikes, pauseS = 5, knocks = 0 } = rest;
  const random = seededRandom(seed);
  const events: { timeS: number; sound: Sound; striker: number; size: number }[] = [];
  let timeS = 2;
  sounds.forEach((sound, striker) => {
    for (let k = 0; k < knocks; k++) {
      events.push({ timeS: timeS + 0.4 * k, sound: sounds[0], striker: 0, size: 0.3 });
      if (k === knocks - 1) timeS += pauseS;
    }
    for (let i = 0; i < strikes; i++) {
      events.push({ timeS, sound, striker, size: 10 ** (random.between(-3, 3) / 20) });
      timeS += random.between(0.7, 1.3);
    }
    timeS += pauseS;
  });
  const length = Math.round(timeS * sampleRate);
  const tracks = gainDb.map((gain, m) => {
    const samples = noise(length, random).map((value) => value * 0.1 * 10 ** (noiseDb / 20));
    for (const { timeS, sound, striker, size } of events) {
      const way = metres[striker][m];
      const at = Math.round((timeS + way / soundMetresPerS) * sampleRate);
      const scale = size / way;
      sound.samples.forEach((value, i) => {
        if (at + i < length) samples[at + i] += scale * value;
      });
    }
    const amplified = 10 ** (gain / 20);
    return samples.map((value) => value * amplified);
  });
  return { tracks, durationS: timeS };
}

const noise = (length: number, random: Random) => Float32Array.from({ length }, () => random.normal());
