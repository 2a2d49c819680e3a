/**
 * Sound for close listening, from clips of tracks: stretches one after another, one channel alone, one sound on either side.
 * Pure: samples in, samples out. Times are the take's, s.
 */
import type { ClipMessage } from '../protocol/messages.ts';

export interface Span {
  readonly fromS: number;
  readonly toS: number;
}

/** Let through before a stroke, so that its start is whole, and after it, while it rings. */
const leadS = 0.02;
const ringS = 0.6;
/** Let through after a stroke however soon the next one comes: less is a click without a sound. */
const leastS = 0.03;
/** Each way at the edges of what is let through, so that they do not click. */
const fadeS = 0.004;

/**
 * Samples of a stretch, silent where no clip reaches.
 *
 * @param clips of one track; of other rates too, which are read between their samples
 */
export function stitched(
  clips: readonly (ClipMessage | null)[],
  sampleRate: number,
  fromS: number,
  length: number,
): Float32Array {
  const samples = new Float32Array(length);
  for (const clip of clips) {
    if (clip === null) continue;
    const start = Math.round((clip.fromS - fromS) * sampleRate);
    if (clip.sampleRate === sampleRate) {
      const [first, last] = [Math.max(0, start), Math.min(length, start + clip.samples.length)];
      if (first < last) samples.set(clip.samples.subarray(first - start, last - start), first);
      continue;
    }
    const end = start + Math.floor((clip.samples.length * sampleRate) / clip.sampleRate);
    for (let i = Math.max(0, start); i < Math.min(length, end); i++) {
      const at = (fromS + i / sampleRate - clip.fromS) * clip.sampleRate;
      const k = Math.floor(at);
      const [a, b] = [clip.samples[k] ?? 0, clip.samples[k + 1] ?? 0];
      samples[i] = a + (b - a) * (at - k);
    }
  }
  return samples;
}

/**
 * Where a channel alone sounds in a track: about each of its strokes, until the next one of another channel. What still rings of
 * others, and a stroke that falls together with its own, are heard with it.
 *
 * @param own    its strokes, ascending
 * @param others all other strokes in the track, ascending
 */
export function soundsAlone(own: readonly number[], others: readonly number[]): Span[] {
  return own.map((timeS, i) => {
    const next = Math.min(others.find((other) => other > timeS) ?? Infinity, own[i + 1] ?? Infinity);
    return { fromS: timeS - leadS, toS: Math.max(timeS + leastS, Math.min(timeS + ringS, next - leadS)) };
  });
}

/** Samples that begin at `fromS`, silent outside of the spans. */
export function letThrough(
  samples: Float32Array,
  sampleRate: number,
  fromS: number,
  spans: readonly Span[],
): Float32Array {
  const gains = new Float32Array(samples.length);
  for (const span of spans) {
    const first = Math.max(0, Math.ceil((span.fromS - fromS) * sampleRate));
    const last = Math.min(samples.length - 1, Math.floor((span.toS - fromS) * sampleRate));
    for (let i = first; i <= last; i++) {
      const timeS = fromS + i / sampleRate;
      const gain = Math.min(1, (timeS - span.fromS) / fadeS, (span.toS - timeS) / fadeS);
      gains[i] = Math.max(gains[i], gain);
    }
  }
  return samples.map((sample, i) => sample * gains[i]);
}

/** One after another, each faded at its edges; as loud as may be. */
export function inARow(parts: readonly Float32Array[], sampleRate: number): Float32Array {
  const row = new Float32Array(parts.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  let peak = 1e-9;
  for (const part of parts) {
    const fade = Math.max(1, Math.min(part.length / 2, fadeS * sampleRate));
    for (let i = 0; i < part.length; i++) {
      const sample = part[i] * Math.min(1, i / fade, (part.length - 1 - i) / fade);
      row[at + i] = Number.isFinite(sample) ? sample : 0;
      peak = Math.max(peak, Math.abs(row[at + i]));
    }
    at += part.length;
  }
  return row.map((sample) => (0.9 * sample) / peak);
}
