/** When the pattern expects which channel, once it is known roughly how the barrel turned. */
import { bisectLeft } from 'd3-array';
import { grouped } from '../../numbers/grouped.ts';
import { sectorOf } from '../../machine/effects.ts';
import type { Machine } from '../../machine/machine.ts';
import type { RoughRotation } from '../../rotation/rotation.ts';
import { median } from '../../numbers/statistics.ts';
import type { Track } from '../../take/take.ts';

/** A stroke that the pattern asks for. */
export interface ExpectedStroke {
  readonly channel: number;
  readonly sector: number;
  /** By the rotation and the channel's own lateness, as far as they are known. */
  readonly timeS: number;
}

/** As built, channels lie up to 40 ms late or early, and sectors some ms against each other. */
const farthestS = 0.06;
/** But never beyond this part of a step: there the next pin may be. */
const farthestSteps = 0.6;
/** A sector's lateness lies at most this far from its channel's usual one, s. */
const sectorsApartS = 0.008;
/** More than this share of a channel's strokes, or of those in one sector, must have a moment in one cluster: fewer may be another's. */
const mostly = 0.5;
/** Strokes of one channel lie this near each other, s, whatever the sector. */
const clusterS = 0.012;

/**
 * All strokes of all channels while the drive ran, ascending in time, each channel's own lateness being told from
 * where most of the moments lie that can be its.
 *
 * @param momentsOf times, s, ascending, at which something that may be this channel was heard
 */
export function strokesExpected(
  track: Track,
  machine: Machine,
  rotation: RoughRotation,
  momentsOf: (channel: number) => Float64Array,
): ExpectedStroke[] {
  const { steps, stepsPerBeat } = machine.description.barrel;
  const durationS = track.length / track.sampleRate;
  // A take may begin long before the drive, or go on after it: there nothing is due, and what sounds is something else.
  const ranFrom = rotation.pieces[0].from - stepsPerBeat;
  const ranTo = rotation.pieces[rotation.pieces.length - 1].to + stepsPerBeat;
  const first = Math.floor(rotation.positionAt(0) / steps) - 1;
  const last = Math.ceil(rotation.positionAt(durationS) / steps) + 1;
  const places = machine.description.channels.map(() => [] as { timeS: number; sector: number }[]);
  for (const { channel, step, targetMs = 0 } of machine.pins)
    for (let turn = first; turn <= last; turn++) {
      const position = turn * steps + step;
      if (position < ranFrom || position > ranTo) continue;
      const timeS = rotation.timeAt(position) + targetMs / 1000;
      if (timeS >= 0 && timeS <= durationS)
        places[channel].push({ timeS, sector: sectorOf(machine.description, step) });
    }
  const reachS = Math.min(farthestS, farthestSteps * rotation.secondsPerStep);
  return places
    .flatMap((all, channel) => {
      const moments = momentsOf(channel);
      const usualS = usualLateness(
        all.map(({ timeS }) => timeS),
        moments,
        0,
        reachS,
      );
      return [...grouped(all, ({ sector }) => sector).values()].flatMap((inSector) => {
        const times = inSector.map(({ timeS }) => timeS);
        const latenessS = usualLateness(times, moments, usualS, Math.min(reachS, sectorsApartS));
        return inSector.map(({ timeS, sector }) => ({ channel, sector, timeS: timeS + latenessS }));
      });
    })
    .sort((a, b) => a.timeS - b.timeS || a.channel - b.channel);
}

/** Strokes that settle where a channel lies in a sector. */
const fewestToSettle = 3;

/**
 * The same strokes, each channel and sector moved to the middle of where its sound was found: what lay together before
 * may have been another's in part.
 *
 * @param foundNear each stroke's strike, s; NaN where none was found
 */
export function settled(
  due: readonly ExpectedStroke[],
  foundNear: (stroke: ExpectedStroke) => number,
): ExpectedStroke[] {
  return [...grouped(due, ({ channel, sector }) => `${channel} ${sector}`).values()]
    .flatMap((strokes) => {
      const apart = strokes.map((stroke) => foundNear(stroke) - stroke.timeS).filter((s) => !Number.isNaN(s));
      const moved = apart.length < fewestToSettle ? 0 : median(apart);
      return strokes.map((stroke) => ({ ...stroke, timeS: stroke.timeS + moved }));
    })
    .sort((a, b) => a.timeS - b.timeS || a.channel - b.channel);
}

/** The middle of where moments lie closest after (or before) these times, sought about `around`; that where there are none. */
function usualLateness(
  times: readonly number[],
  moments: Float64Array,
  around: number,
  reachS: number,
): number {
  const apart: number[] = [];
  for (const timeS of times) {
    const to = timeS + around + reachS;
    for (let i = bisectLeft(moments, timeS + around - reachS); i < moments.length && moments[i] <= to; i++)
      apart.push(moments[i] - timeS);
  }
  apart.sort((a, b) => a - b);
  let best: readonly number[] = [];
  let from = 0;
  for (let to = 0; to < apart.length; to++) {
    while (apart[to] - apart[from] > clusterS) from++;
    if (to - from + 1 > best.length) best = apart.slice(from, to + 1);
  }
  return best.length > mostly * times.length ? median(best) : around;
}

/** A sound shows where it begins when no other is due so long before it, s, nor so shortly after. */
const silentBeforeS = 0.03;
const silentAfterS = 0.004;

/** Whether nothing but this channel is due just before a time. */
export function nothingElseDueBefore(
  due: readonly ExpectedStroke[],
): (channel: number, timeS: number) => boolean {
  const dueS = Float64Array.from(due, (d) => d.timeS);
  return (channel, timeS) => {
    for (
      let i = bisectLeft(dueS, timeS - silentBeforeS);
      i < dueS.length && dueS[i] < timeS + silentAfterS;
      i++
    )
      if (due[i].channel !== channel) return false;
    return true;
  };
}

/** When a channel is due, or was found, nearest to a time; NaN where it is not so near. */
export function dueNear(
  due: readonly Pick<ExpectedStroke, 'channel' | 'timeS'>[],
  reachS: number,
): (channel: number, timeS: number) => number {
  const times = new Map<number, Float64Array>();
  for (const channel of new Set(due.map((d) => d.channel)))
    times.set(
      channel,
      Float64Array.from(
        due.filter((d) => d.channel === channel),
        (d) => d.timeS,
      ),
    );
  return (channel, timeS) => {
    const own = times.get(channel) ?? new Float64Array();
    const i = nearestWithin(own, timeS, reachS);
    return i < 0 ? NaN : own[i];
  };
}

/** Index of the nearest, the earlier of two as near; −1 where none is so near. */
export function nearestWithin(ascending: Float64Array, value: number, within: number): number {
  const after = bisectLeft(ascending, value);
  const before = after - 1;
  const nearest =
    before >= 0 && (after === ascending.length || value - ascending[before] <= ascending[after] - value)
      ? before
      : after;
  return nearest < ascending.length && Math.abs(ascending[nearest] - value) <= within ? nearest : -1;
}
