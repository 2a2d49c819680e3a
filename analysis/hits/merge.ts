/** Makes one list of hits of what the tracks heard: each strike once, without the bleed of neighbours. */
import type { Machine } from '../machine/machine.ts';
import type { Take } from '../take/take.ts';
import type { Hits } from './hits.ts';
import type { TrackStrikes } from './track.ts';

export interface Found {
  readonly timeS: number;
  readonly timeSdS: number;
  readonly track: number;
  readonly channel: number;
  readonly peak: number;
  readonly why: string | null;
}

export function mergeTracks(heard: readonly TrackStrikes[], take: Take, _machine: Machine): Hits {
  const found = heard.flatMap((track, t): Found[] =>
    track.strikes
      .filter((strike) => track.voices[strike.voice].count > 1)
      .map((strike) => ({ ...strike, track: t, channel: take.tracks[t].channels[0], why: null })),
  );
  return hitsOf(found);
}

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
