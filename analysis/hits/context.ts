/** What every stage of hearing needs to know beside its own input: of the whole take, and of one track. */
import type { Machine } from '../machine/machine.ts';
import type { Run } from '../ports.ts';
import type { Take, Track } from '../take/take.ts';
import type { OnsetCandidates } from './detect/listen.ts';
import type { Prominence } from './detect/prominence.ts';
import type { EachTrack } from './each-track.ts';
import type { SavedVoice } from './learn/saved-voice.ts';
import type { Voice } from './learn/voice.ts';
import type { Background } from './signal/background.ts';
import type { Frame } from './signal/clip.ts';

export interface TakeContext {
  readonly take: Take;
  readonly machine: Machine;
  /** Voices learnt from other takes. */
  readonly saved: readonly SavedVoice[];
  readonly run: Run;
  readonly eachTrack: EachTrack;
  /** What the first sweep found, track by track. */
  readonly detected: readonly OnsetCandidates[];
}

export interface TrackContext extends Pick<TakeContext, 'machine' | 'saved' | 'run'> {
  readonly track: Track;
  readonly detected: OnsetCandidates;
  readonly prominence: Prominence;
  readonly progress: (fraction: number) => void;
}

/** A track and all that is known to sound on it. */
export interface Scene {
  readonly track: Track;
  readonly frame: Frame;
  readonly background: Background;
  readonly voices: readonly Voice[];
}
