/** Windows of a track around the moments that were heard: all of one shape, so that they can be laid on each other. */
import type { Track } from '../../take/take.ts';
import { RealFourier } from '../../numbers/fft.ts';

/** The shape of every window on a track, in samples. */
export interface Frame {
  readonly sampleRate: number;
  /** Samples in a window, a power of two. */
  readonly n: number;
  /** Where in the window the heard moment lies. */
  readonly pre: number;
  /** How far a sound may lie from the heard moment, either way. */
  readonly reach: number;
  readonly fourier: RealFourier;
}

/**
 * Half of a sampling rate is the highest tone that a recording holds, and an attack is told by its high tones. Measured on
 * struck sounds at 30 dB: from 16 kHz on each strike is heard once and to some µs; at 11 kHz up to 0.6 ms early, at 8 kHz
 * 1 ms off, some twice.
 */
export const leastSampleRate = 16_000;

/** Before the moment: slow attacks are heard late, and the quiet before them is needed to see where they begin. */
const beforeS = 0.025;
/** After it: what follows adds little to the exactness of a struck sound's time. */
const afterS = 0.06;
/** First pass and slow attacks together, s. */
const reachS = 0.01;

export function frameFor(sampleRate: number): Frame {
  const n = 2 ** Math.ceil(Math.log2((beforeS + afterS) * sampleRate));
  return {
    sampleRate,
    n,
    pre: Math.round(beforeS * sampleRate),
    reach: Math.round(reachS * sampleRate),
    fourier: new RealFourier(n),
  };
}

/** What is heard in a window, as its spectrum. */
export interface Clip {
  /** Sample of the track at which the window starts. */
  readonly from: number;
  readonly spectrum: Float64Array;
}

/** A window as it was read. */
export interface RawClip extends Clip {
  readonly samples: Float64Array;
}

export async function readClip(track: Track, at: number, frame: Frame): Promise<RawClip> {
  const from = at - frame.pre;
  const samples = await readSamples(track, from, from + frame.n);
  // Outside the track its first and last sample go on, or a constant would begin with a thump.
  const first = Math.max(0, -from);
  const end = Math.min(frame.n, track.length - from);
  if (first > 0 && first < frame.n) samples.fill(samples[first], 0, first);
  if (end > 0 && end < frame.n) samples.fill(samples[end - 1], end);
  takeMeanOff(samples, frame);
  return clipOf(from, samples, frame);
}

/**
 * Takes a recording's constant off, by the quiet at the start of what begins where a frame does: it is no sound, but a
 * template or a tail cut out of it would begin and end with one.
 */
export function takeMeanOff(samples: Float64Array, frame: Frame): void {
  const quiet = samples.subarray(0, frame.pre >> 1);
  const mean = quiet.reduce((sum, x) => sum + x, 0) / quiet.length;
  for (let i = 0; i < samples.length; i++) samples[i] -= mean;
}

/** Samples that are not finite are taken as 0. */
export async function readSamples(track: Track, from: number, to: number): Promise<Float64Array> {
  const samples = Float64Array.from(await track.read(from, to));
  for (let i = 0; i < samples.length; i++) if (!Number.isFinite(samples[i])) samples[i] = 0;
  return samples;
}

export function clipOf(from: number, samples: Float64Array, frame: Frame): RawClip {
  return { from, samples, spectrum: frame.fourier.forward(samples) };
}
