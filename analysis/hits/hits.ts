import type { Rejection } from './select/rejected.ts';

/** Hits in flat arrays: one entry a strike, ascending in time. Times in seconds from the files' common start. */
export interface Hits {
  readonly count: number;
  /** The instant that counts, s: the physical onset at the microphone, until `countInstants` says otherwise. */
  readonly timeS: Float64Array;
  /** The physical onset at the microphone, s, where another instant counts; in no order. */
  readonly heardS?: Float64Array;
  /** Standard deviation of `timeS` from hearing alone, s. */
  readonly timeSdS: Float64Array;
  /** Index into `take.tracks`; −1 where the hit is known from a marker alone. */
  readonly track: Int32Array;
  /** Index into the machine's channels; −1 where nobody could tell. */
  readonly channel: Int32Array;
  /** Peak of its sound's template at the gain that was fitted, dB re full scale; NaN for hits from markers. */
  readonly levelDb: Float32Array;
  /** Why a hit must not enter the numbers ("masked"), or null where it may. */
  readonly why: readonly (string | null)[];
}

/** What was noticed about each track while listening; same order as `take.tracks`. */
export interface TrackHearing {
  /** Root mean square of the background, dB re full scale; −Infinity where it is digital silence. */
  readonly noiseDb: number;
  /** Samples in runs of three or more at full scale. */
  readonly clippedSamples: number;
  /** NaN and infinite samples, taken as 0. */
  readonly badSamples: number;
  /** How often something started to sound clear of the background, whether it became a hit or not. */
  readonly soundsStarted?: number;
}

/** A sound that is no channel's as far as anything tells. */
export interface UnknownSound {
  /** Index into `take.tracks`. */
  readonly track: number;
  /** Its clearest strike, s. */
  readonly timeS: number;
  readonly count: number;
  /** null where it has none. */
  readonly pitchHz: number | null;
}

/** Something that started to sound on a track and is no hit. */
export interface Dropped {
  /** Index into `take.tracks`. */
  readonly track: number;
  readonly timeS: number;
  /** Index of the channel it would have been; −1 where nothing tells. */
  readonly channel: number;
  readonly why: Rejection;
}

/** What stands between the onset at the microphone and the instant that counts, of one channel. */
export interface Instant {
  /** How long the sound travels to the microphone, s; 0 where the distance is not known. */
  readonly travelS: number;
  /** From the physical to the perceived onset, s; 0 where the physical one counts, NaN where nothing tells. */
  readonly perceivedS: number;
}

export interface Hearing {
  readonly hits: Hits;
  /** Ascending in time: every moment at which a track changed for the louder and that is no hit. */
  readonly dropped?: readonly Dropped[];
  /**
   * Standard deviation by channel of where its sound begins, s: one error for all its strikes of the take. NaN where
   * nothing was heard by its sound.
   */
  readonly onsetSdS?: Float64Array;
  readonly tracks: readonly TrackHearing[];
  /** Sounds on tracks of several channels that could be given to none. */
  readonly unknown?: readonly UnknownSound[];
  /** From physical to perceived onset by channel, s; NaN where nothing was heard by its sound. */
  readonly perceivedS?: Float64Array;
  /** What stands between the onset at the microphone and the instant that counts, by channel; once it was asked. */
  readonly instants?: readonly Instant[];
}
