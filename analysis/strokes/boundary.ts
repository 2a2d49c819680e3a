/**
 * Sectors whose first step was entered wrongly: a run of pins beside a boundary lies as the pins on its other side do,
 * all channels alike. Each pair of neighbouring sectors is fitted with its boundary anywhere (a change-point by least
 * squares: Quandt 1958, JASA 53:873), channels' own lateness apart; one place far likelier than the entered one is told.
 */
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { mean } from '../numbers/statistics.ts';
import { usedByPin } from './repeatability.ts';
import type { Strokes } from './strokes.ts';

export interface WrongBoundary {
  /** Index of the sector whose `from` is wrong, and of the one before it. */
  readonly sector: number;
  readonly before: number;
  /** It begins at one of these steps, as far as the pins tell. */
  readonly earliest: number;
  readonly latest: number;
  /** Pins between the entered boundary and the found one: channel index and step. */
  readonly pins: readonly { readonly channel: number; readonly step: number }[];
  /** How far the two sectors lie apart, ms. */
  readonly apartMs: number;
}

/** Fewer pins on the wrong side may each be off by themselves. */
const leastPins = 4;
/** And as many must be left on either side to say how a sector lies. */
const leastBeside = 3;
/** A joint's misfit below this is no matter. */
const leastApartMs = 0.8;
/** Twice the log of how much likelier the other place must be: beyond chance for every boundary of every take. */
const certainty = 25;
/** Share of the pins on the wrong side that must lie nearer to the other side's level. */
const mostPins = 0.8;
/** Share of the step between the sectors by which those pins may, on average, lie off the other side's level. */
const offLevel = 0.25;

const found = new WeakMap<Strokes, readonly WrongBoundary[]>();

/** Worked out once for a take: groups, checks and the verdict ask. */
export function wrongBoundaries(strokes: Strokes, machine: Machine): readonly WrongBoundary[] {
  let boundaries = found.get(strokes);
  if (boundaries === undefined) found.set(strokes, (boundaries = workOut(strokes, machine)));
  return boundaries;
}

/** Whether a sector lies on either side of such a boundary: its means mix two sectors. */
export function besideWrongBoundary(strokes: Strokes, machine: Machine, sector: number): boolean {
  return wrongBoundaries(strokes, machine).some((one) => one.sector === sector || one.before === sector);
}

interface Place {
  readonly channel: number;
  readonly step: number;
  /** Steps from the first step of the earlier sector. */
  readonly along: number;
  readonly ms: number;
}

function workOut(strokes: Strokes, machine: Machine): WrongBoundary[] {
  const { barrel, channels } = machine.description;
  const { steps, sectors } = barrel;
  if (sectors.length < 2) return [];
  const all = usedByPin(strokes, machine).flatMap((pins, channel) =>
    channels[channel].onBarrel && channel !== machine.reference
      ? [...pins].map(([step, hits]) => ({ channel, step, ms: mean(hits.map((i) => strokes.latenessMs[i])) }))
      : [],
  );
  return sectors.flatMap(({ from }, sector) => {
    const before = (sector + sectors.length - 1) % sectors.length;
    const start = sectors[before].from;
    const places = all
      .filter(({ step }) => [before, sector].includes(sectorOf(machine.description, step)))
      .map((pin): Place => ({ ...pin, along: (pin.step - start + steps) % steps }))
      .sort((a, b) => a.along - b.along);
    const entered = (from - start + steps) % steps;
    const other = likeliest(places, entered);
    if (other === null) return [];
    const between = places.filter(({ along }) => along < entered !== along < other.latest);
    return [
      {
        sector,
        before,
        earliest: (start + other.earliest) % steps,
        latest: (start + other.latest) % steps,
        pins: between.map(({ channel, step }) => ({ channel, step })),
        apartMs: other.apartMs,
      },
    ];
  });
}

/** The boundary that fits far better than the entered one; null where none does. */
function likeliest(places: readonly Place[], entered: number) {
  const channels = [...new Set(places.map(({ channel }) => channel))];
  const freedom = places.length - channels.length - 2;
  if (freedom < 2 * leastBeside) return null;
  const at = fitted(places, channels, entered);
  let best: { k: number; squares: number; apartMs: number } | null = null;
  for (let k = leastBeside; k <= places.length - leastBeside; k++) {
    if (places[k].along === places[k - 1].along) continue;
    const fit = fitted(places, channels, places[k].along);
    if (best === null || fit.squares < best.squares) best = { k, ...fit };
  }
  if (best === null) return null;
  const { k, squares, apartMs } = best;
  const boundary = places[k].along;
  const moved = places.filter(({ along }) => along < entered !== along < boundary);
  const sure = places.length * Math.log(at.squares / squares) > certainty + 2 * Math.log(places.length);
  if (!sure || moved.length < leastPins || Math.abs(apartMs) < leastApartMs) return null;
  const level = levels(places, channels, boundary, apartMs);
  const rests = moved.map(
    ({ ms, channel, along }) => ms - level.get(channel)! - (along >= boundary ? apartMs : 0),
  );
  const alike = rests.filter((rest) => Math.abs(rest) < Math.abs(apartMs) / 2);
  // An edge that lifts its pins puts them anywhere; pins of the neighbour lie where the neighbour lies.
  const atLevel = Math.abs(mean(rests)) <= offLevel * Math.abs(apartMs);
  if (alike.length < mostPins * moved.length || !atLevel) return null;
  return { earliest: places[k - 1].along + 1, latest: boundary, apartMs };
}

/** Least squares of channels' levels and one step at a boundary: each channel's own mean is taken off both sides. */
function fitted(places: readonly Place[], channels: readonly number[], boundary: number) {
  let [xx, xy, yy] = [0, 0, 0];
  for (const channel of channels) {
    const own = places.filter((place) => place.channel === channel);
    const middle = mean(own.map(({ ms }) => ms));
    const share = mean(own.map(({ along }) => (along >= boundary ? 1 : 0)));
    for (const { ms, along } of own) {
      const x = (along >= boundary ? 1 : 0) - share;
      xx += x * x;
      xy += x * (ms - middle);
      yy += (ms - middle) ** 2;
    }
  }
  const apartMs = xx > 0 ? xy / xx : 0;
  return { squares: Math.max(yy - apartMs * xy, 1e-12), apartMs };
}

/** Each channel's level in the earlier sector, ms. */
function levels(places: readonly Place[], channels: readonly number[], boundary: number, apartMs: number) {
  return new Map(
    channels.map((channel) => {
      const own = places.filter((place) => place.channel === channel);
      return [channel, mean(own.map(({ ms, along }) => ms - (along >= boundary ? apartMs : 0)))];
    }),
  );
}
