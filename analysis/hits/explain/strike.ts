import type { Struck } from '../learn/voice.ts';

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
