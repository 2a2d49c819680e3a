import type { Struck } from '../learn/voice.ts';

/** Moments within this of a strike, s, are its own: a moment is told to a few ms, and a slow attack is heard late. */
export const momentOfStrikeS = 0.012;

/** A striker is not back sooner, s: that would be a rebound of less than 0.2 mm (free fall, 2 √(2h / g)). */
export const backAgainS = 0.0125;

/** One strike of one voice. */
export interface Strike extends Struck {
  readonly timeS: number;
  readonly timeSdS: number;
  /** Peak level, full scale 1. */
  readonly peak: number;
  /** Cosine between the strike and its voice. */
  readonly like: number;
  /** Another, so much louder, struck with it: where it lies is not to be told. */
  readonly masked?: true;
}
