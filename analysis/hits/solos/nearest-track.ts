/**
 * Which microphone stands at which striker, from how loud each track hears each striker by itself. A track's gain and a
 * striker's loudness are no matter: both are taken off as the means of rows and columns of the table of levels in dB, and
 * what is left is the way between the two (two-way layout, one value a cell; Scheffé 1959, The Analysis of Variance, ch. 4).
 */
import { mean } from 'd3-array';
import { clearlyOverNoiseDb } from '../detect/listen.ts';

/** The next best track has to be so much farther, dB: a factor of 1.6 in distance. Common practice, no source. */
const clearlyNearerDb = 4;

/** How one striker by itself is heard, a value a track. */
export interface HeardBy {
  readonly levelDb: readonly number[];
  readonly overNoiseDb: readonly number[];
}

/**
 * @returns for each striker the tracks whose microphones may be its own, best first: one where it is clear, several where they
 *          hear it nearly alike, none where no track hears it
 */
export function nearestTracks(strikers: readonly HeardBy[]): number[][] {
  const tracks = strikers[0]?.levelDb.length ?? 0;
  const ofTrack = Array.from({ length: tracks }, (_, t) => mean(strikers, ({ levelDb }) => levelDb[t])!);
  return strikers.map(({ levelDb, overNoiseDb }) => {
    const ranked = levelDb
      .map((level, track) => ({ track, near: level - ofTrack[track] }))
      .filter(({ track }) => overNoiseDb[track] >= clearlyOverNoiseDb)
      .sort((a, b) => b.near - a.near);
    return ranked.filter(({ near }) => ranked[0].near - near < clearlyNearerDb).map(({ track }) => track);
  });
}
