/** Hears one track by itself: what sounds there are on it, and every strike of each. */
import type { Run } from '../ports.ts';
import type { Track } from '../take/take.ts';
import { frameFor } from './clip.ts';
import { follow, type Strike } from './follow.ts';
import type { TrackHearing } from './hits.ts';
import { learn } from './learn.ts';
import { listen } from './listen.ts';
import type { Voice } from './voice.ts';

export interface TrackStrikes extends TrackHearing {
  readonly voices: readonly Voice[];
  /** Ascending in time. */
  readonly strikes: readonly Strike[];
}

/** Share of the progress that the first sweep takes, and then the learning. */
const swept = 0.4;
const learnt = 0.5;

export async function hearTrack(
  track: Track,
  run: Run,
  progress: (fraction: number) => void,
): Promise<TrackStrikes> {
  const heard = await listen(track, run, (f) => progress(swept * f));
  const said = {
    noiseDb: heard.noisePower > 0 ? 10 * Math.log10(heard.noisePower) : -Infinity,
    clippedSamples: heard.clippedSamples,
    badSamples: heard.badSamples,
  };
  if (heard.at.length === 0) return { ...said, voices: [], strikes: [] };
  const frame = frameFor(track.sampleRate);
  const { voices, background } = await learn(track, heard, frame);
  const { strikes } = await follow(track, heard.at, voices, background, frame, false, (m) => {
    run.signal?.throwIfAborted();
    progress(learnt + ((1 - learnt) * m) / heard.at.length);
  });
  return { ...said, voices, strikes };
}
