/** Hears one track by itself: what sounds there are on it, and every strike of each. */
import type { Strike } from './strike.ts';
import type { Run } from '../../ports.ts';
import type { Track } from '../../take/take.ts';
import type { Background } from '../signal/background.ts';
import { frameFor, type Frame } from '../signal/clip.ts';
import type { Expectation } from './explain.ts';
import { follow } from './follow.ts';
import type { TrackHearing } from '../hits.ts';
import { learn } from '../learn/learn.ts';
import { clearlyOverNoiseDb, type OnsetCandidates } from '../detect/listen.ts';
import { withUnrepeated } from './unrepeated.ts';
import type { Voice } from '../learn/voice.ts';
import type { Rejected } from '../select/rejected.ts';

export interface TrackStrikes extends TrackHearing {
  readonly voices: readonly Voice[];
  /** For each voice the channel that makes it, here or as bleed; absent where the pattern did not tell. */
  readonly sources?: readonly number[];
  /** Ascending in time. */
  readonly strikes: readonly Strike[];
  /** What was found and not kept. */
  readonly rejected: readonly Rejected[];
  /** Samples at which something started to sound, ascending. */
  readonly moments: Int32Array;
  /** Those of them that were looked at closely; absent: all. */
  readonly examined?: readonly number[];
  readonly background: Background | null;
  readonly frame: Frame;
}

/** Share of the progress that the learning takes. */
const learnt = 0.2;

/** Of the moments at which a track changed for the louder, those in which something stood clear of the background. */
function soundsStarted({ peak, noisePower }: OnsetCandidates): number {
  const least = Math.sqrt(noisePower) * 10 ** (clearlyOverNoiseDb / 20);
  return peak.filter((top) => top > least).length;
}

/** What the first sweep tells of a track whatever is heard on it later. */
export function trackHearing(heard: OnsetCandidates): TrackHearing {
  return {
    noiseDb: heard.noisePower > 0 ? 10 * Math.log10(heard.noisePower) : -Infinity,
    clippedSamples: heard.clippedSamples,
    badSamples: heard.badSamples,
    soundsStarted: soundsStarted(heard),
  };
}

export async function hearTrack(
  track: Track,
  heard: OnsetCandidates,
  run: Run,
  progress: (fraction: number) => void,
): Promise<TrackStrikes> {
  const frame = frameFor(track.sampleRate);
  const said = { ...trackHearing(heard), moments: heard.at, frame };
  if (heard.at.length === 0) return { ...said, voices: [], strikes: [], rejected: [], background: null };
  const { voices, background } = await learn(track, heard, frame);
  const followed = await follow({ track, frame, background, voices }, heard.at, {
    step: (m) => {
      run.signal?.throwIfAborted();
      progress(learnt + ((1 - learnt) * m) / heard.at.length);
    },
  });
  const scene = { track, frame, background, voices };
  return { ...said, background, ...(await withUnrepeated(scene, heard, followed)) };
}

/**
 * Hears a track again with only those voices that are known to be somebody's, and knowing where the pattern has pins:
 * where one is due less will do, where none is no less than a clean strike.
 *
 * @param due for a voice of the track and a time, whether its channel has a pin near there
 * @param unheard times, s, at which a pin is due and no moment was heard
 */
export async function hearAgain(
  track: Track,
  heard: TrackStrikes,
  due: (voice: number, timeS: number) => Expectation,
  unheard: readonly number[],
  run: Run,
): Promise<TrackStrikes> {
  if (!heard.background) return heard;
  const moments = [...heard.moments, ...unheard.map((timeS) => Math.round(timeS * track.sampleRate))];
  moments.sort((a, b) => a - b);
  const { frame, background, voices } = heard;
  const { strikes, rejected } = await follow({ track, frame, background, voices }, moments, {
    step: () => run.signal?.throwIfAborted(),
    expected: due,
  });
  // What is known by its envelope alone was looked for at every moment already.
  const unrepeated = heard.strikes.filter(({ voice }) => voices[voice].envelope !== null);
  return {
    ...heard,
    strikes: [...strikes, ...unrepeated].sort((a, b) => a.timeS - b.timeS || a.voice - b.voice),
    rejected,
  };
}
