/** Markers that name strikes: they tell whose a hit is that was heard beside them, and are the hits where nothing was recorded. */
import type { Marker, Take } from '../../take/take.ts';
import { hitsOf, type Found } from './found.ts';
import type { Hits } from '../hits.ts';

/** A person sets a marker by eye and a recorder by its own detector: both come this near. Common practice, no source. */
const markerReachS = 0.02;
/** Grids on which recorders write times, coarsest first: decimal places, then samples at the usual rates. */
const gridsS = [1, 0.1, 0.01, 0.001, 1e-4, 1e-5, ...[44100, 48000, 88200, 96000, 192000].map((hz) => 1 / hz)];
/** Where times lie on no known grid they were written with full digits. */
const finestS = 1e-6;

interface Named {
  readonly timeS: number;
  readonly channel: number;
  readonly file: string;
}

/**
 * Names hits by the markers that tell a channel. Each marker names one hit at most, each hit takes one name at most,
 * the nearest pairs first. A track that one channel has to itself needs no name and takes none.
 *
 * @returns the hits with names; without audio, the markers themselves
 */
export function nameByMarkers(found: readonly Found[], take: Take): Hits {
  const named = take.markers.flatMap((marker) => namesHit(marker));
  if (take.tracks.length === 0) return hitsOf(fromMarkers(named));
  const channels = found.map((hit) => hit.channel);
  const open = (hit: Found) => {
    const track = take.tracks[hit.track];
    return !(track.assigned && track.channels.length === 1);
  };
  const pairs = named.flatMap((name, n) =>
    found.flatMap((hit, h) => {
      const apartS = Math.abs(hit.timeS - name.timeS);
      const fits =
        hit.channel === name.channel || (open(hit) && take.tracks[hit.track].channels.includes(name.channel));
      return apartS <= markerReachS && fits ? [{ n, h, apartS }] : [];
    }),
  );
  pairs.sort((a, b) => a.apartS - b.apartS || a.n - b.n || a.h - b.h);
  const usedNames = new Set<number>();
  const usedHits = new Set<number>();
  for (const { n, h } of pairs) {
    if (usedNames.has(n) || usedHits.has(h)) continue;
    usedNames.add(n);
    usedHits.add(h);
    channels[h] = named[n].channel;
  }
  return hitsOf(found.map((hit, h) => ({ ...hit, channel: channels[h] })));
}

function namesHit({ timeS, file, meaning }: Marker): Named[] {
  return meaning.kind === 'hit' ? [{ timeS, file, channel: meaning.channel }] : [];
}

function fromMarkers(named: readonly Named[]): Found[] {
  const grids = new Map([...new Set(named.map((n) => n.file))].map((file) => [file, gridOf(named, file)]));
  return named.map(({ timeS, channel, file }) => ({
    timeS,
    // A time on a grid is anywhere within its step, evenly: the step over √12.
    timeSdS: grids.get(file)! / Math.sqrt(12),
    track: -1,
    channel,
    peak: NaN,
    why: null,
  }));
}

/** The coarsest grid on which all times of a file lie, s. */
function gridOf(named: readonly Named[], file: string): number {
  const times = named.filter((n) => n.file === file).map((n) => n.timeS);
  const onGrid = (step: number) =>
    times.every(
      (t) =>
        Math.abs(t / step - Math.round(t / step)) < 1e-6 * Math.max(1, Math.abs(t / step)) &&
        Math.abs(t / step - Math.round(t / step)) < 0.01,
    );
  return gridsS.find(onGrid) ?? finestS;
}
