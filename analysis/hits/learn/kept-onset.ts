/**
 * Where a sound begins, kept from take to take. A slow attack comes out of the background at another instant in every
 * take, and told anew each time its beginning lies some tenths of a millisecond apart: as much as half a shim. A voice
 * saved with the machine says once and for all which instant of its waveform counts; how a take's own voice lies on that
 * one is known to microseconds.
 */
import type { TakeContext } from '../context.ts';
import { voiceFrom, type SavedVoice } from './saved-voice.ts';
import type { TrackStrikes } from '../explain/track.ts';
import { laidOn } from './voice.ts';
import type { Labelled } from '../expect/by-rhythm.ts';

/**
 * A beginning told anew lies no further from the kept one than this, s: of a felt beater 0.75 ms was measured at 20 dB, 1.1 ms
 * at 15 dB. Further off lies the next swing of a sound that another microphone, or place of it, has changed.
 */
const farthestS = 0.0015;
/** Least cosine of two averages of one sound, whatever the noise: 0.98 was measured at 5 dB. */
const alikeKept = 0.9;

/** What was heard, each channel's strikes beginning where its saved voice does; as they were where none is saved, or none like it near. */
export function keepOnsets(owned: Labelled, { take, machine, saved }: TakeContext): Labelled {
  if (saved.length === 0) return owned;
  const { channels } = machine.description;
  const heard = owned.heard.map((track, t) =>
    onTrack(track, (voice) =>
      saved.find(
        ({ channel, sampleRate }) =>
          channel === channels[owned.labels[t][voice]]?.id && sampleRate === take.tracks[t].sampleRate,
      ),
    ),
  );
  return { ...owned, heard };
}

function onTrack(heard: TrackStrikes, savedFor: (voice: number) => SavedVoice | undefined): TrackStrikes {
  const { background, frame } = heard;
  if (background === null) return heard;
  const voices = heard.voices.map((voice, v) => {
    const saved = savedFor(v);
    if (saved === undefined) return voice;
    const kept = voiceFrom(saved, background, frame);
    const farthest = farthestS * frame.sampleRate;
    const { delay, like } = laidOn(voice, kept, frame, farthest);
    const onset = kept.onset + delay;
    return like >= alikeKept && Math.abs(onset - voice.onset) < farthest
      ? { ...voice, onset, onsetSd: Number.isNaN(kept.onsetSd) ? voice.onsetSd : kept.onsetSd }
      : voice;
  });
  const strikes = heard.strikes
    .map((strike) => {
      const later = voices[strike.voice].onset - heard.voices[strike.voice].onset;
      return { ...strike, timeS: strike.timeS + later / frame.sampleRate };
    })
    .sort((a, b) => a.timeS - b.timeS || a.voice - b.voice);
  return { ...heard, voices, strikes };
}
