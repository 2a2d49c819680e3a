/** Hits while they are still being sorted out, and how they become the flat arrays that everything downstream reads. */
import type { Hits } from '../hits.ts';
import type { Rejection } from './rejected.ts';

export interface Found {
  readonly timeS: number;
  readonly timeSdS: number;
  /** Index into `take.tracks`, −1 for a hit from a marker. */
  readonly track: number;
  /** Index into the machine's channels, −1 where nobody could tell. */
  readonly channel: number;
  /** Full scale 1; NaN where unknown. */
  readonly peak: number;
  readonly why: string | null;
}

/** One that is not kept, and why. */
export interface RejectedHit extends Omit<Found, 'why'> {
  readonly why: Rejection;
}

/** Ascending in time. */
export function hitsOf(found: readonly Found[]): Hits {
  const sorted = [...found].sort((a, b) => a.timeS - b.timeS || a.track - b.track || a.channel - b.channel);
  return {
    count: sorted.length,
    timeS: Float64Array.from(sorted, (f) => f.timeS),
    timeSdS: Float64Array.from(sorted, (f) => f.timeSdS),
    track: Int32Array.from(sorted, (f) => f.track),
    channel: Int32Array.from(sorted, (f) => f.channel),
    levelDb: Float32Array.from(sorted, (f) => 20 * Math.log10(f.peak)),
    why: sorted.map((f) => f.why),
  };
}
