/** Tracks one after the other, each with its share of the progress. */
import type { Run } from '../ports.ts';
import type { Take } from '../take/take.ts';

/** Share of the progress that the first sweep takes. */
export const swept = 0.25;

/** Does one track after the other, each with its share of the progress. */
export async function eachTrack<T>(
  take: Take,
  run: Run,
  from: number,
  to: number,
  work: (track: number, progress: (fraction: number) => void) => Promise<T>,
): Promise<T[]> {
  const total = take.tracks.reduce((sum, track) => sum + track.length, 0);
  const results: T[] = [];
  let done = 0;
  for (const [t, track] of take.tracks.entries()) {
    const share = total === 0 ? 0 : ((to - from) * track.length) / total;
    const before = from + done;
    results.push(await work(t, (f) => run.progress?.('hearing', before + share * f)));
    done += share;
  }
  return results;
}
