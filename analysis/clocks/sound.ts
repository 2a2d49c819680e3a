/**
 * clocks/ finds when each file of a take began, and how fast its recorder's clock ran, from the sound itself: every
 * microphone hears some of every striker. In: a take's tracks. Out: the same take in step, what is known of each file's
 * clock, and how well. This file: what a file holds, all its tracks in one.
 */
import type { Track } from '../take/take.ts';

/** One file's sound. */
export interface FileSound {
  readonly file: string;
  readonly tracks: readonly Track[];
  /** Hz */
  readonly sampleRate: number;
  /** Samples. */
  readonly length: number;
}

/** The take's files in the order of their tracks. */
export function soundsOf(tracks: readonly Track[]): FileSound[] {
  const files = [...new Set(tracks.map(({ file }) => file))];
  return files.map((file) => {
    const own = tracks.filter((track) => track.file === file);
    const [{ sampleRate, length }] = own;
    return { file, tracks: own, sampleRate, length };
  });
}

/** All tracks of a file in one, samples that are no numbers as 0. */
export async function mixed({ tracks }: FileSound, from: number, to: number): Promise<Float64Array> {
  const out = new Float64Array(Math.max(0, to - from));
  for (const track of tracks) {
    const samples = await track.read(from, to);
    for (let i = 0; i < out.length; i++) out[i] += Number.isFinite(samples[i]) ? samples[i] : 0;
  }
  return out;
}

/**
 * A piece of a file at a rate that files of any rate can be compared at.
 *
 * @param fromS the first value's time in the file, s
 */
export async function piece(
  sound: FileSound,
  fromS: number,
  count: number,
  rate: number,
): Promise<Float64Array> {
  const step = sound.sampleRate / rate;
  const width = Math.max(1, Math.floor(step));
  const first = Math.floor(fromS * sound.sampleRate) - width;
  const samples = await mixed(sound, first, first + Math.ceil(count * step) + 2 * width + 2);
  // Means over as many samples as a step holds, so that what the lower rate cannot hold is mostly gone; then between two.
  const sums = new Float64Array(samples.length + 1);
  for (let i = 0; i < samples.length; i++) sums[i + 1] = sums[i] + samples[i];
  const mean = (at: number) => (sums[Math.min(samples.length, at + width)] - sums[at]) / width;
  const out = new Float64Array(count);
  const offset = fromS * sound.sampleRate - first - (width - 1) / 2;
  for (let i = 0; i < count; i++) {
    const at = offset + i * step;
    const whole = Math.floor(at);
    out[i] = mean(whole) + (at - whole) * (mean(whole + 1) - mean(whole));
  }
  return out;
}
