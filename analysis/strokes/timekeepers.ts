/** Whose strokes tell the barrel's course: the reference, and the channels that help most; laid out for the model. */
import { grouped } from '../numbers/grouped.ts';
import { pooledVariance } from '../numbers/inference.ts';
import { median, sumOfSquares } from '../numbers/statistics.ts';
import type { CourseData, Variances } from './course-model.ts';
import { fewestForCurve } from './reference.ts';

/** Strokes of all channels that may tell the course, ascending in position. */
export interface KeptStrokes {
  /** Unwrapped, steps */
  readonly position: Float64Array;
  /** Less what is meant, s */
  readonly timeS: Float64Array;
  /** Against a first course through the reference alone, s. */
  readonly latenessS: Float64Array;
  readonly channel: Int32Array;
  readonly step: Float64Array;
  /** −1 where the channel is not on the barrel. */
  readonly sector: Int32Array;
  /** Standard deviation of a time from hearing alone, s. */
  readonly timeSdS: Float64Array;
  /** Its index among the take's hits. */
  readonly hit: Int32Array;
  readonly reference: number;
  readonly channels: number;
  /** Positions in a turn of the barrel. */
  readonly stepsPerTurn: number;
  /** Stretches in which the drive stood, first and last position. */
  readonly stood: readonly (readonly [number, number])[];
  /** Step to which the markers' times are rounded; 0 where they are not. */
  readonly timesStepMs: number;
}

export interface Timekeepers {
  readonly data: CourseData;
  readonly start: Variances;
  /** Floor of each keeper's chance, ms². */
  readonly least: Float64Array;
  /** Of the model's strokes, their index among those handed in. */
  readonly of: Int32Array;
  /** Of each channel its keeper, −1 where it keeps no time. */
  readonly channels: readonly number[];
  /** The reference's sectors where it is on the barrel. */
  readonly sectors: readonly number[];
  /** The line taken off the times, ms at a position. */
  readonly lineMs: (position: number) => number;
  readonly keepers: readonly Keeper[];
}

/** A channel that struck less often helps nobody. */
const leastOfHelper = 8;
/** Unknowns that the equations hold: their time grows as the square, and as the strokes. */
const mostUnknowns = 120;
/** Beyond so many the gain is small: each helper only adds to what the others tell. */
const mostHelpers = 6;
/** A pin's constant is told apart from chance where pins came round again so often, all together. */
const leastRepeats = 4;
/** Strokes from which the variances are told: as many as an hour's have no more to say of them. */
const mostForVariances = 1200;
/** A clock's tick: no recording is exact beyond it, ms. */
const leastSdMs = 1e-3;
/** So many times a turn a drive is let swing in step with the barrel; each takes two unknowns from at least so many pins. */
const mostSwings = 4;
const pinsPerSwing = 8;

/** @param used of the strokes handed in, ascending; @returns null where the reference's are fewer than three */
export function timekeepers(
  strokes: KeptStrokes,
  used: Int32Array,
  { keepers: known, rates = [] }: { keepers?: readonly Keeper[] | undefined; rates?: readonly number[] } = {},
): Timekeepers | null {
  const { channel, reference } = strokes;
  const byChannel = grouped(used, (i) => channel[i]);
  const own = byChannel.get(reference) ?? [];
  if (own.length < fewestForCurve) return null;
  const keepers = known ?? chosen(strokes, byChannel);
  const of = Int32Array.from(used.filter((i) => keepers.some(({ channel: c }) => c === channel[i])));
  const keeperOf = new Map(keepers.map((keeper, k) => [keeper.channel, k]));
  const keeper = Int32Array.from(of, (i) => keeperOf.get(channel[i])!);

  const x = Float64Array.from(new Set(Array.from(of, (i) => strokes.position[i])));
  const knotAt = new Map(Array.from(x, (position, k) => [position, k]));
  const timeMs = (i: number) => 1000 * strokes.timeS[i];
  const [a, b] = [own[0], own[own.length - 1]];
  const paceMs = (timeMs(b) - timeMs(a)) / (strokes.position[b] - strokes.position[a]);
  const lineMs = (position: number) => timeMs(a) + paceMs * (position - strokes.position[a]);

  const pins = indexed(of, (i) =>
    keepers[keeperOf.get(channel[i])!].ownPins ? `${channel[i]} ${strokes.step[i]}` : null,
  );
  const groups = indexed(of, (i) => (channel[i] === reference ? null : `${channel[i]} ${strokes.sector[i]}`));
  const pinKeeper = new Int32Array(pins.count);
  of.forEach((_, i) => {
    if (pins.of[i] >= 0) pinKeeper[pins.of[i]] = keeper[i];
  });
  const sectors = [...new Set(own.map((i) => strokes.sector[i]))].filter((s) => s >= 0).sort((p, q) => p - q);
  const enough = own.length - 2 - (sectors.length - 1) >= 1;
  const told = enough && sectors.length > 1 ? sectors : [];
  const columns = told
    .slice(1)
    .map((sector) =>
      Float64Array.from(of, (i) =>
        channel[i] !== reference
          ? 0
          : (strokes.sector[i] === sector ? 1 : 0) - (strokes.sector[i] === told[0] ? 1 : 0),
      ),
    );
  const inStep =
    sectors.length === 0 && keepers[0].ownPins ? swingsPerTurn(strokes, own, keepers[0].pins) : [];
  const swings = [...inStep, ...rates].flatMap((rate) => [
    (at: number) => Math.cos(rate * at),
    (at: number) => Math.sin(rate * at),
  ]);
  const data: CourseData = {
    x,
    knot: Int32Array.from(of, (i) => knotAt.get(strokes.position[i])!),
    y: Float64Array.from(of, (i) => timeMs(i) - lineMs(strokes.position[i])),
    keeper,
    keepers: keepers.length,
    ownPins: keepers.map(({ ownPins }) => ownPins),
    pin: pins.of,
    pinKeeper,
    group: groups.of,
    groups: groups.count,
    columns: [...columns, ...swings.map((swing) => Float64Array.from(of, (i) => swing(strokes.position[i])))],
    swings,
    loose: Uint8Array.from(x.subarray(1, -1), (position) =>
      strokes.stood.some(([from, to]) => position >= from && position <= to) ? 1 : 0,
    ),
  };
  return {
    data,
    start: {
      wander: 0,
      chance: Float64Array.from(keepers, ({ chance }) => chance),
      pins: Float64Array.from(keepers, ({ ofPins }) => ofPins),
    },
    least: Float64Array.from(keepers, ({ least }) => least),
    of,
    channels: Array.from({ length: strokes.channels }, (_, c) => keeperOf.get(c) ?? -1),
    sectors: told,
    lineMs,
    keepers,
  };
}

/** The same with the middle of a long take alone: enough to tell the variances by. */
export function middleOf(strokes: KeptStrokes, whole: Timekeepers, rates: readonly number[]): Timekeepers {
  const { of } = whole;
  if (of.length <= mostForVariances) return whole;
  const from = (of.length - mostForVariances) >> 1;
  return (
    timekeepers(strokes, of.slice(from, from + mostForVariances), { keepers: whole.keepers, rates }) ?? whole
  );
}

export interface Keeper {
  readonly channel: number;
  readonly pins: number;
  readonly groups: number;
  readonly ownPins: boolean;
  /** First guesses of the variances, ms². */
  readonly chance: number;
  readonly ofPins: number;
  readonly least: number;
}

/** The reference first, then those with most to tell, as many as the equations hold. */
function chosen(strokes: KeptStrokes, byChannel: ReadonlyMap<number, readonly number[]>): Keeper[] {
  const { reference } = strokes;
  const first = keeperOf(strokes, reference, byChannel.get(reference)!);
  const helpers = [...byChannel]
    .filter(([channel, own]) => channel !== reference && own.length >= leastOfHelper)
    .map(([channel, own]) => ({ keeper: keeperOf(strokes, channel, own), count: own.length }))
    .sort(
      (p, q) => q.count / q.keeper.chance - p.count / p.keeper.chance || p.keeper.channel - q.keeper.channel,
    );
  let unknowns = first.ownPins ? first.pins : 0;
  const kept = [first];
  for (const { keeper } of helpers) {
    const more = keeper.groups + (keeper.ownPins ? keeper.pins : 0);
    if (kept.length > mostHelpers || unknowns + more > mostUnknowns) continue;
    unknowns += more;
    kept.push(keeper);
  }
  return kept;
}

function keeperOf(strokes: KeptStrokes, channel: number, own: readonly number[]): Keeper {
  const ms = (list: readonly number[]) => list.map((i) => 1000 * strokes.latenessS[i]);
  const pins = [...grouped(own, (i) => strokes.step[i]).values()];
  const sectors = [...grouped(own, (i) => strokes.sector[i]).values()];
  const least = Math.max(leastSdMs, 1000 * median(own.map((i) => strokes.timeSdS[i]))) ** 2;
  const scatter =
    sectors.reduce((sum, list) => sum + sumOfSquares(ms(list)), 0) / Math.max(1, own.length - sectors.length);
  const within = pooledVariance(pins.map(ms));
  const repeated = within.degreesOfFreedom >= leastRepeats && pins.length > 1;
  const ownPins = repeated && pins.length <= mostUnknowns;
  const chance = Math.max(least, repeated ? within.variance : scatter);
  const ofPins = Math.max(least, scatter - chance, 0.1 * chance);
  return { channel, pins: pins.length, groups: sectors.length, ownPins, chance, ofPins, least };
}

function indexed(of: Int32Array, key: (i: number) => string | null) {
  const numbers = new Map<string, number>();
  const out = Int32Array.from(of, (i) => {
    const own = key(i);
    if (own === null) return -1;
    if (!numbers.has(own)) numbers.set(own, numbers.size);
    return numbers.get(own)!;
  });
  return { of: out, count: numbers.size };
}

/**
 * What swings in step with the turn is there every turn, as a pin's own constant is; but pins lie off one by one, and a
 * drive swings smoothly. Without these the likelihood may give a chain's swing to the pins, since it has to pay for
 * each turn of a swing anew and for a pin's constant only once.
 */
function swingsPerTurn(
  { position, stepsPerTurn }: KeptStrokes,
  own: readonly number[],
  pins: number,
): number[] {
  const span = position[own[own.length - 1]] - position[own[0]];
  const count = span < 1.5 * stepsPerTurn ? 0 : Math.min(mostSwings, Math.floor(pins / pinsPerSwing));
  return Array.from({ length: count }, (_, j) => (2 * Math.PI * (1 + j)) / stepsPerTurn);
}
