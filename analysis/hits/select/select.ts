/**
 * The one place that makes hits of strikes: the tracks' strikes are made one list (merge.ts), another track's bleed is
 * taken out (alone.ts), and markers name what they stand beside (markers.ts). What no stage kept stays known, with the
 * reason: every moment at which something started to sound either is a hit, or is among the dropped.
 */
import { bisectLeft } from 'd3-array';
import type { Take } from '../../take/take.ts';
import type { Labelled } from '../expect/by-rhythm.ts';
import { nobody } from '../expect/label.ts';
import { momentOfStrikeS } from '../explain/strike.ts';
import type { Dropped, Hearing } from '../hits.ts';
import type { Found } from './found.ts';
import { nameByMarkers } from './markers.ts';
import { mergeTracks } from './merge.ts';
import type { Rejection } from './rejected.ts';

/** A rejected strike within this of a moment, s, says why the moment was no hit. */
const saysWhyS = 0.02;

/** @param channels how many the machine has */
export function select(
  { heard, labels }: Pick<Labelled, 'heard' | 'labels'>,
  take: Take,
  channels: number,
): Pick<Hearing, 'hits' | 'dropped'> {
  const { kept, rejected } = mergeTracks(heard, labels, take, channels);
  const hits = nameByMarkers(kept, take);
  const dropped = heard.flatMap((track, t) => {
    const { sampleRate } = take.tracks[t];
    const heardS = timesOn(kept, t);
    const why: Reason[] = [
      ...rejected.filter((one) => one.track === t),
      ...track.rejected.map(({ strike: { timeS, voice }, why }) => ({
        timeS,
        channel: labels[t][voice] ?? nobody,
        why,
      })),
      ...track.strikes
        .filter(({ voice }) => labels[t][voice] === nobody)
        .map(({ timeS }) => ({ timeS, channel: nobody, why: 'nobody' as const })),
    ].sort((a, b) => a.timeS - b.timeS);
    const whyS = Float64Array.from(why, ({ timeS }) => timeS);
    const examined = new Set(track.examined ?? track.moments);
    return [...track.moments].flatMap((at): Dropped[] => {
      const timeS = at / sampleRate;
      if (isNear(heardS, timeS, momentOfStrikeS)) return [];
      const reason = nearest(why, whyS, timeS);
      const otherwise: Rejection = examined.has(at) ? 'unexplained' : 'not clear';
      return [{ track: t, timeS, channel: reason?.channel ?? nobody, why: reason?.why ?? otherwise }];
    });
  });
  return { hits, dropped: dropped.sort((a, b) => a.timeS - b.timeS || a.track - b.track) };
}

interface Reason {
  readonly timeS: number;
  readonly channel: number;
  readonly why: Rejection;
}

function timesOn(found: readonly Found[], track: number): Float64Array {
  return Float64Array.from(
    found.filter((one) => one.track === track),
    ({ timeS }) => timeS,
  ).sort();
}

function isNear(ascending: Float64Array, timeS: number, withinS: number): boolean {
  const i = bisectLeft(ascending, timeS - withinS);
  return i < ascending.length && ascending[i] <= timeS + withinS;
}

function nearest(reasons: readonly Reason[], times: Float64Array, timeS: number): Reason | null {
  let best: Reason | null = null;
  for (let i = bisectLeft(times, timeS - saysWhyS); i < times.length && times[i] <= timeS + saysWhyS; i++)
    if (best === null || Math.abs(times[i] - timeS) < Math.abs(best.timeS - timeS)) best = reasons[i];
  return best;
}
