/**
 * How well the beginning of each channel's sound is known. It is one error for a take and a channel: all its strikes
 * are laid on one template, and where that begins was told from its average out of the background.
 */
import type { Frame } from '../signal/clip.ts';
import type { TrackStrikes } from '../explain/track.ts';
import type { Voice } from './voice.ts';

/** Standard deviation by channel, s, of the voice with which each was mostly heard, or of one heard nearly as often that is known less well; NaN where none was. */
export function onsetUncertainties(
  heard: readonly TrackStrikes[],
  labels: readonly (readonly number[])[],
  channels: number,
): Float64Array {
  return ofMostHeard(
    heard,
    labels,
    channels,
    ({ onsetSd }, { sampleRate }, others) =>
      Math.max(onsetSd, ...others.map((other) => (Number.isNaN(other.onsetSd) ? 0 : other.onsetSd))) /
      sampleRate,
  );
}

/** A channel's other voice that was heard so often, as a share of the one heard most, has its say in where the channel's strikes lie. */
const alsoHeard = 0.25;

/**
 * A value by channel, from the voice with which each was mostly heard; NaN where none was.
 *
 * @param valueOf is given the channel's other voices on that track too, those that were heard often
 */
export function ofMostHeard(
  heard: readonly TrackStrikes[],
  labels: readonly (readonly number[])[],
  channels: number,
  valueOf: (voice: Voice, frame: Frame, others: readonly Voice[]) => number,
): Float64Array {
  const values = new Float64Array(channels).fill(NaN);
  const most = new Float64Array(channels);
  heard.forEach(({ voices, frame }, t) =>
    voices.forEach((voice, v) => {
      const channel = labels[t][v];
      if (channel < 0 || voice.count <= most[channel]) return;
      most[channel] = voice.count;
      const others = voices.filter(
        (other, o) => o !== v && labels[t][o] === channel && other.count >= alsoHeard * voice.count,
      );
      values[channel] = valueOf(voice, frame, others);
    }),
  );
  return values;
}
