/**
 * What is off as a whole: a channel or a sector most of whose pins lie off alike by half a step and more. It is late by
 * so much, or pinned or bolted whole steps away: the hits cannot say which, so it is measured as it lies and both
 * readings are told. Single pins are misplaced.ts's.
 */
import type { Machine } from '../machine/machine.ts';
import { median } from '../numbers/statistics.ts';
import { differences, highestPeak, peakAt, type Difference, type Peak } from './correlogram.ts';
import type { Due, Offsets } from './match.ts';

/** A channel, or all that is on the barrel in a sector, that lies off as a whole. */
export interface WholeOffset {
  /** Index; null: every channel on the barrel. */
  readonly channel: number | null;
  /** Index; null: the whole turn. */
  readonly sector: number | null;
  /** How far it lies off, ms; positive is late. */
  readonly offsetMs: number;
  /** Other places at which as many of its pins would be explained, ms. */
  readonly otherMs: readonly number[];
  /** Pins that lie off so, of how many that should have sounded. */
  readonly pins: number;
  readonly of: number;
}

export interface AsWhole {
  readonly offsets: Offsets;
  readonly whole: readonly WholeOffset[];
  /** By channel, pins explained; all of them; and pins that were due. */
  readonly explainedOf: readonly number[];
  readonly explained: number;
  readonly due: number;
  /** Strokes explained. */
  readonly explainedStrokes: number;
  /** Half the width within which pins count as lying alike, s. */
  readonly windowS: number;
}

/** Nearer than this a channel is early or late as built, whatever the step's time (rotation/guess.ts has the same 40 ms). */
const asBuiltS = 0.045;
const halfStep = 0.5;
/** A whole step off and late or early as built besides. */
export const searchedSteps = 1.6;
/** Pins of a channel that lie off alike: its sectors and its pins' own errors scatter by less. */
const windowSteps = 0.2;
const leastWindowS = 0.015;
/** Share of the pins that must lie off alike, and by how much it must beat what lies in place. */
const mostPins = 0.6;
const clearly = 0.3;
const leastClearly = 1.5;
const leastPins = 2;
/** Of a peak as high as this share of the highest the pattern cannot say that it is not the true one. */
const asHigh = 0.85;
/** What a finding must explain: with one fewer the simpler reading is taken. */
const pinsForOne = 2;

/**
 * @param hitsOf by channel, times of its hits, ascending, s
 * @param due    by channel, what the pattern asks for while the take lasted
 * @param timeAt the course as the reference tells it
 */
export function asWhole(
  machine: Machine,
  hitsOf: readonly ArrayLike<number>[],
  due: readonly (readonly Due[])[],
  timeAt: (position: number) => number,
  secondsPerStep: number,
): AsWhole {
  const scale = scaleOf(secondsPerStep);
  const all = due.map((strokes, c) => differences(hitsOf[c], strokes, timeAt, scale.searchedS));
  const readings = [channelsFirst(machine, all, due, scale), sectorsFirst(machine, all, due, scale)];
  const [a, b] = readings.map(({ explained, whole }) => explained - pinsForOne * whole.length);
  return readings[b > a ? 1 : 0];
}

interface Scale {
  readonly stepS: number;
  readonly searchedS: number;
  /** Beyond this something is off as a whole. */
  readonly farS: number;
  readonly windowS: number;
}

function scaleOf(stepS: number): Scale {
  const farS = Math.max(halfStep * stepS, asBuiltS);
  return {
    stepS,
    farS,
    searchedS: Math.max(searchedSteps * stepS, farS),
    windowS: Math.max(windowSteps * stepS, leastWindowS),
  };
}

type ByChannel = readonly (readonly Difference[])[];

function channelsFirst(
  machine: Machine,
  all: ByChannel,
  due: readonly (readonly Due[])[],
  scale: Scale,
): AsWhole {
  const { channels, whole } = channelOffsets(machine, all, due, scale);
  const sectors = sectorOffsets(machine, all, due, channels, scale);
  return sum(machine, all, due, scale, {
    offsets: { channelS: channels, sectorS: sectors.sectors },
    whole: [...whole, ...sectors.whole],
  });
}

function sectorsFirst(
  machine: Machine,
  all: ByChannel,
  due: readonly (readonly Due[])[],
  scale: Scale,
): AsWhole {
  const near = Float64Array.from(all, (list) => nearest(list, scale).offsetS || 0);
  const first = sectorOffsets(machine, all, due, near, scale);
  const without = all.map((list, c) =>
    machine.description.channels[c].onBarrel
      ? list.map((d) => ({ ...d, byS: d.byS - first.sectors[d.due.sector] })).sort((a, b) => a.byS - b.byS)
      : list,
  );
  const { channels, whole } = channelOffsets(machine, without, due, scale);
  return sum(machine, all, due, scale, {
    offsets: { channelS: channels, sectorS: first.sectors },
    whole: [...whole, ...first.whole],
  });
}

function nearest(list: readonly Difference[], { windowS, farS }: Scale): Peak {
  return highestPeak(list, windowS, (offsetS) => Math.abs(offsetS) <= farS);
}

function channelOffsets(machine: Machine, all: ByChannel, due: readonly (readonly Due[])[], scale: Scale) {
  const whole: WholeOffset[] = [];
  const channels = Float64Array.from(all, (list, channel) => {
    const off = farOff(list, pinsOf(due[channel]), scale);
    if (off === null) return nearest(list, scale).offsetS || 0;
    whole.push({ channel, sector: null, ...off });
    return off.offsetMs / 1000;
  });
  return { channels, whole: asReferences(machine, whole, due, scale) };
}

/** Where all others lie off alike it is the reference that is off from them, and one thing, not as many as channels. */
function asReferences(
  { reference }: Machine,
  whole: readonly WholeOffset[],
  due: readonly (readonly Due[])[],
  { windowS }: Scale,
): readonly WholeOffset[] {
  const others = due.filter((strokes, c) => c !== reference && pinsOf(strokes) >= leastPins);
  const offsetsMs = whole.map(({ offsetMs }) => offsetMs);
  const middleMs = median(offsetsMs);
  const alike = offsetsMs.every((ms) => Math.abs(ms - middleMs) <= 2000 * windowS);
  if (whole.length < leastPins || whole.length < others.length || !alike) return whole;
  return [
    {
      channel: reference,
      sector: null,
      offsetMs: -middleMs,
      otherMs: [],
      pins: pinsOf(due[reference]),
      of: pinsOf(due[reference]),
    },
  ];
}

function sectorOffsets(
  machine: Machine,
  all: ByChannel,
  due: readonly (readonly Due[])[],
  channels: Float64Array,
  scale: Scale,
) {
  const { description, reference } = machine;
  const takesPart = (c: number) => description.channels[c].onBarrel && c !== reference;
  const whole: WholeOffset[] = [];
  const sectors = Float64Array.from(description.barrel.sectors, (_, sector) => {
    const list = all
      .flatMap((own, c) =>
        takesPart(c)
          ? own.flatMap((d) => (d.due.sector === sector ? [{ ...d, byS: d.byS - channels[c] }] : []))
          : [],
      )
      .sort((a, b) => a.byS - b.byS);
    const pins = due.reduce(
      (count, strokes, c) =>
        count + (takesPart(c) ? pinsOf(strokes.filter((stroke) => stroke.sector === sector)) : 0),
      0,
    );
    const off = farOff(list, pins, scale);
    if (off === null) return 0;
    whole.push({ channel: null, sector, ...off });
    return off.offsetMs / 1000;
  });
  return { sectors, whole };
}

/** How far these pins lie off as one; null where most lie within what is usual, or not alike. */
function farOff(list: readonly Difference[], pins: number, scale: Scale) {
  const { windowS, farS } = scale;
  const peak = highestPeak(list, windowS, (offsetS) => Math.abs(offsetS) > farS);
  const inPlace = highestPeak(
    list,
    windowS,
    (offsetS) => Math.abs(offsetS) <= farS && Math.abs(offsetS - peak.offsetS) > 2 * windowS,
  );
  const clear = peak.pins - inPlace.pins >= Math.max(leastClearly, clearly * pins);
  if (pins < leastPins || peak.pins < mostPins * pins || !clear) return null;
  const others: number[] = [];
  for (;;) {
    const taken = [peak.offsetS, ...others];
    const next = highestPeak(list, windowS, (offsetS) =>
      taken.every((other) => Math.abs(other - offsetS) > 2 * windowS),
    );
    if (!(next.pins >= asHigh * peak.pins)) break;
    others.push(next.offsetS);
  }
  return {
    offsetMs: 1000 * peakAt(list, windowS, peak.offsetS).offsetS,
    otherMs: others.map((offsetS) => 1000 * offsetS),
    pins: Math.round(peak.pins),
    of: pins,
  };
}

function sum(
  machine: Machine,
  all: ByChannel,
  due: readonly (readonly Due[])[],
  { windowS }: Scale,
  found: Pick<AsWhole, 'offsets' | 'whole'>,
): AsWhole {
  const { channelS, sectorS } = found.offsets;
  const inPlace = all.map((list, c) => {
    const { onBarrel } = machine.description.channels[c];
    return list.filter(
      ({ byS, due: stroke }) =>
        Math.abs(byS - channelS[c] - (onBarrel ? sectorS[stroke.sector] : 0)) <= windowS,
    );
  });
  const explainedOf = inPlace.map((list) => list.reduce((total, { weight }) => total + weight, 0));
  return {
    ...found,
    explainedOf,
    explained: explainedOf.reduce((total, pins) => total + pins, 0),
    due: due.reduce((count, strokes) => count + pinsOf(strokes), 0),
    explainedStrokes: inPlace.reduce((total, list) => total + list.length, 0),
    windowS,
  };
}

/** Different pins among strokes. */
function pinsOf(strokes: readonly Due[]): number {
  return new Set(strokes.map(({ step }) => step)).size;
}
