/**
 * How well the beginning of each channel's sound is known. It is one error for a take and a channel: all its strikes
 * are laid on one template, and where that begins was told from its average out of the background.
 */
import type { Frame } from '../signal/clip.ts';
import type { TrackStrikes } from '../explain/track.ts';
import type { Voice } from './voice.ts';

/** Standard deviation by channel, s, from the voice with which each was mostly heard; NaN where none was. */
export function onsetUncertainties(
  heard: readonly TrackStrikes[],
  labels: readonly (readonly number[])[],
  channels: number,
): Float64Array {
  return ofMostHeard(heard, labels, channels, ({ onsetSd }, { sampleRate }) => onsetSd / sampleRate);
}

/** A value by channel, from the voice with which each was mostly heard; NaN where none was. */
export function ofMostHeard(
  heard: readonly TrackStrikes[],
  labels: readonly (readonly number[])[],
  channels: number,
  valueOf: (voice: Voice, frame: Frame) => number,
): Float64Array {
  const values = new Float64Array(channels).fill(NaN);
  const most = new Float64Array(channels);
  heard.forEach(({ voices, frame }, t) =>
    voices.forEach((voice, v) => {
      const channel = labels[t][v];
      if (channel < 0 || voice.count <= most[channel]) return;
      most[channel] = voice.count;
      values[channel] = valueOf(voice, frame);
    }),
  );
  return values;
}
