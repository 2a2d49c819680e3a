/**
 * Whether a take of a machine with several tunes is of another one than take.jsonc names. Each tune's pattern is laid along
 * the take by its own best rotation; what counts is how many pins sound and how many hits sit at pins.
 */
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import { wrappedStep } from '../machine/pattern.ts';
import type { Take } from '../take/take.ts';
import { readAsNamed, type Named, type WholeStepReading } from './reading.ts';

/** How much of a take one tune's pattern explains. */
export interface TuneFit {
  readonly tune: string;
  /** Pins that sound, of those due in channels that were heard. */
  readonly pins: number;
  readonly due: number;
  /** Hits at pins, of all that have a channel. */
  readonly hitsAtPins: number;
  readonly hits: number;
}

export interface OtherTuneFit {
  readonly named: TuneFit;
  readonly other: TuneFit;
  /** Further tunes that explain the take exactly as well as `other`. */
  readonly orElse: readonly string[];
}

/**
 * A pin that is silent tells less than a hit where there is no pin: strikers fail and feeds run out, but none strikes where
 * nothing lifts it.
 */
const silentPin = 0.5;
/**
 * What a tune leaves unexplained is counted in hits a turn without a pin, a silent pin as `silentPin` of one. Another tune must leave
 * less than the named one by at least this; one pin that sits elsewhere in the two comes to 1.5.
 */
const leastMore = 1.2;
/** Least part of the difference that a faultless take of the other tune would show; a machine's own faults count against both. */
const leastOfIt = 0.5;
/** Or: what the other leaves is at most this part of what the named one leaves (by chance that one fits here and there). */
const mostLeft = 0.3;
/** Hits at pins of the other alone, once a turn: without one, only silent pins speak against the named tune. */
const leastPlaces = 0.75;
/**
 * Silent pins speak where at least `leastSilent` pins of the named tune alone are silent, in channels of which at most
 * `mostSilentOfOther` of the other's pins are.
 */
const leastSilent = 3;
const mostSilentOfOther = 0.1;

/**
 * Where a whole channel of the named tune is silent its pins tell nothing, and two tunes may differ in little else. Then another
 * that explains so much more, in places as above, and leaves next to nothing, is reason to doubt: one pin that never sounds
 * comes to 0.5. A machine with such faults in the tune that is named leaves as much by the other tune too, unless its faults
 * happen to be where the tunes differ, and then nobody can tell.
 */
const leastDoubted = 0.4;
const mostLeftInDoubt = 0.25;

/** A tune's pattern laid along the take, by the hits that were heard with it. */
export interface LaidTune {
  readonly machine: Machine;
  readonly hits: Named;
  /** null where it was not found in the take. */
  readonly reading: WholeStepReading | null;
}

/** What other tunes say of a take; both null where the named one explains it as well as any, or nearly. */
export interface OtherTunes {
  readonly clearly: OtherTuneFit | null;
  readonly perhaps: OtherTuneFit | null;
}

export function otherTunesOf(take: Take, named: LaidTune): OtherTunes {
  const { machine, hits, reading } = named;
  const { tunes = [], tune } = machine;
  const none = { clearly: null, perhaps: null };
  if (tune === undefined || hits.indices.length === 0) return none;
  const least = isSilentInPart(named) ? leastDoubted : leastMore;
  // Of turns there is no telling yet; with one, what is left is not thought less than it is.
  if (reading !== null && left(reading, hits.indices.length, 1) < least) return none;
  const others = tunes
    .filter(({ name }) => name !== tune)
    .map(({ name }) => ofTune(machine, name))
    .map((other) => ({ machine: other, hits, reading: readAsNamed(take, other, hits) }));
  const clearly = clearlyOther(named, others);
  return { clearly, perhaps: clearly === null ? perhapsOther(named, others) : null };
}

/** Whether of the channels that the pattern has pins for one was never heard. */
function isSilentInPart({ machine, reading }: LaidTune): boolean {
  return reading !== null && machine.pins.some(({ channel }) => reading.heard[channel].length === 0);
}

/** A tune that explains more of a take of which a channel is silent; null where there is none, or none is. */
function perhapsOther(named: LaidTune, others: readonly LaidTune[]): OtherTuneFit | null {
  const { reading } = named;
  if (reading === null || !isSilentInPart(named)) return null;
  const found = others.flatMap((other) => {
    if (other.reading === null) return [];
    const count = other.hits.indices.length;
    const turns = turnsSpanned(other.reading, other.hits, other.machine);
    const rest = left(other.reading, count, turns);
    return rest <= mostLeftInDoubt && left(reading, count, turns) - rest >= leastDoubted
      ? [{ other, rest }]
      : [];
  });
  return found.length === 0 ? null : bestOf(named, found);
}

/** Whether one of the other tunes explains clearly more of the take than the named one; null where none does. */
export function clearlyOther(named: LaidTune, others: readonly LaidTune[]): OtherTuneFit | null {
  const found = others.flatMap((other) => {
    const { reading: read, hits } = other;
    if (read === null) return [];
    const turns = turnsSpanned(read, hits, other.machine);
    // What was heard with one pattern alone is left by the other.
    const count = Math.max(hits.indices.length, named.hits.indices.length);
    const rest = left(read, count, turns);
    const restOfNamed =
      named.reading === null ? count / turns : left(named.reading, named.hits.indices.length, turns);
    const more = restOfNamed - rest;
    const clearly =
      rest <= mostLeft * restOfNamed ||
      (named.reading !== null && more >= leastOfIt * apart(named, named.reading, other, read));
    if (more < leastMore || !clearly) return [];
    const places = (read.explainedStrokes - (named.reading?.explainedStrokes ?? 0)) / turns;
    const tells =
      places >= leastPlaces || (named.reading !== null && silentOfNamedAlone(named.reading, read));
    return tells ? [{ other, rest }] : [];
  });
  return found.length === 0 ? null : bestOf(named, found);
}

/** @param found not empty */
function bestOf(
  named: LaidTune,
  found: readonly { readonly other: LaidTune; readonly rest: number }[],
): OtherTuneFit {
  const [best, ...more] = found.toSorted((a, b) => a.rest - b.rest);
  return {
    named: fitOf(named),
    other: fitOf(best.other),
    orElse: more.filter(({ rest }) => rest === best.rest).map(({ other }) => other.machine.tune ?? ''),
  };
}

/** Whether the named tune leaves so much that the take is worth hearing as another: that takes as long again for each. */
export function leavesMuch({ machine, hits, reading }: LaidTune): boolean {
  if (reading === null) return hits.indices.length > 0;
  const rest = left(reading, hits.indices.length, turnsSpanned(reading, hits, machine));
  return rest >= Math.max(leastMore, worthHearing * reading.due);
}

/** Of the pins that were due. A tune of other pins leaves a third and more; strokes missed and noises a few of a hundred. */
const worthHearing = 0.15;

/** What a reading leaves unexplained, in places without a pin that sound once a turn. */
function left({ explained, due, explainedStrokes }: WholeStepReading, count: number, turns: number): number {
  return (count - explainedStrokes) / turns + silentPin * (due - explained);
}

/** How much more a faultless take of the other tune leaves unexplained by the named one, by the pins that they do not share. */
function apart(
  { machine: named }: LaidTune,
  ofNamed: WholeStepReading,
  { machine: other, hits: { hits, indices } }: LaidTune,
  ofOther: WholeStepReading,
): number {
  const { steps } = named.description.barrel;
  const middleS = hits.timeS[indices[indices.length >> 1]];
  const shift = Math.round(ofOther.rough.positionAt(middleS) - ofNamed.rough.positionAt(middleS));
  const sounds = (c: number) => ofNamed.heard[c].length > 0 || ofOther.heard[c].length > 0;
  const placesOf = ({ pins }: Machine, by: number) =>
    new Set(
      pins.flatMap(({ channel, step }) =>
        sounds(channel) ? [`${channel} ${wrappedStep(step + by, steps)}`] : [],
      ),
    );
  const [own, others] = [placesOf(named, shift), placesOf(other, 0)];
  const shared = [...own].filter((place) => others.has(place)).length;
  return others.size - shared + silentPin * (own.size - shared);
}

/** Turns from the first hit to the last, at the rough tempo; parts of a turn count. */
function turnsSpanned(
  { rough }: WholeStepReading,
  { hits, indices }: Named,
  { description }: Machine,
): number {
  const lastedS = hits.timeS[indices[indices.length - 1]] - hits.timeS[indices[0]];
  return Math.max(1, lastedS / (rough.secondsPerStep * description.barrel.steps));
}

/**
 * The named tune's pins that are silent are none of the other's, and the other's all sound: so not where a striker or a feed
 * failed, which would silence pins of both.
 */
function silentOfNamedAlone(named: WholeStepReading, other: WholeStepReading): boolean {
  const silent = pinsOf(named).map((due, c) => due - named.explainedOf[c]);
  const total = silent.reduce((sum, pins) => sum + pins, 0);
  const dueOf = pinsOf(other);
  return (
    total >= leastSilent &&
    silent.every(
      (pins, c) => pins < 1 || (dueOf[c] > 1 && other.explainedOf[c] >= (1 - mostSilentOfOther) * dueOf[c]),
    )
  );
}

/** By channel, different pins that were due. */
function pinsOf({ heard }: WholeStepReading): number[] {
  return heard.map((strokes) => new Set(strokes.map(({ step }) => step)).size);
}

function fitOf({ machine: { tune = '' }, reading, hits: { indices } }: LaidTune): TuneFit {
  const hits = indices.length;
  if (reading === null) return { tune, pins: 0, due: 0, hitsAtPins: 0, hits };
  const { explained, due, explainedStrokes } = reading;
  return { tune, pins: Math.round(explained), due, hitsAtPins: explainedStrokes, hits };
}
