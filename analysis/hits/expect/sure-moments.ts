/** Moments that are surely strikes, as the search for the rotation takes them, before anything is known of how channels sound. */
import type { Moment } from '../../rotation/of-take.ts';
import type { Take } from '../../take/take.ts';
import type { OnsetCandidates } from '../detect/listen.ts';
import type { Prominence } from '../detect/prominence.ts';

/** Where much else sounds, only moments so loud against a track's loudest are taken for strikes, until the pattern is met. */
export const loudness = [0, 0.2, 0.4];

/** The sure moments without those fainter than a share of the track's loudest tenth. */
export function loudest(prominent: Prominence, { peak }: OnsetCandidates, share: number): Prominence {
  if (share === 0) return prominent;
  const peaks = Float32Array.from(peak.filter((_, m) => prominent.sure[m] === 1)).sort();
  const least = share * peaks[Math.floor(0.9 * (peaks.length - 1))];
  return { ...prominent, sure: prominent.sure.map((is, m) => Number(is === 1 && peak[m] >= least)) };
}

/** The sure moments: each may be any channel of its track. */
export function momentsIn(
  take: Take,
  heard: readonly OnsetCandidates[],
  prominent: readonly Prominence[],
): Moment[] {
  return heard.flatMap(({ at }, t) => {
    const { channels, sampleRate } = take.tracks[t];
    return [...at].flatMap((sample, m) =>
      prominent[t].sure[m] === 1 ? [{ timeS: sample / sampleRate, channels }] : [],
    );
  });
}
