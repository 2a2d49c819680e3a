/** Tracks one after the other, each with its share of the progress. */
import type { Run } from '../ports.ts';
import type { Take } from '../take/take.ts';

/** Does one track after the other; it may be asked for again and again, and progress never runs back. */
export type EachTrack = <T>(
  work: (track: number, progress: (fraction: number) => void) => Promise<T>,
) => Promise<T[]>;

/** Share of the progress that the first time, the first sweep, takes. */
const swept = 0.25;
/** Nobody knows before how often more the tracks will be heard: each time takes so much of the progress that is left. */
const ofWhatIsLeft = 0.75;

export function eachTrackOf({ tracks }: Take, run: Run): EachTrack {
  const total = tracks.reduce((sum, { length }) => sum + length, 0);
  let [begun, share] = [0, swept];
  return async (work) => {
    const results = [];
    let from = begun;
    const all = share * (1 - begun);
    [begun, share] = [begun + all, ofWhatIsLeft];
    for (const [t, { length }] of tracks.entries()) {
      const before = from;
      const own = total === 0 ? 0 : (all * length) / total;
      results.push(await work(t, (fraction) => run.progress?.('hearing', before + own * fraction)));
      from += own;
    }
    return results;
  };
}
