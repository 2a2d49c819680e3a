/**
 * Whether a take of a machine with several tunes is of another one than take.jsonc names. Each tune's pattern is laid along
 * the take by its own best rotation; what counts is how many pins sound and how many hits sit at pins.
 */
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import { wrappedStep } from '../machine/pattern.ts';
import type { Take } from '../take/take.ts';
import { readAsNamed, type Named, type Reading } from './reading.ts';

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

export interface OtherTune {
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
/** In places without a pin: another tune must explain so much more. One place that two pins differ in comes to 1.5. */
const leastMore = 1.2;
/** Of what it would explain more, were the take its own and without fault: what is wrong with a machine is wrong for both. */
const leastOfIt = 0.5;
/** Or leave so little of what the named one leaves, which by chance fits here and there at some other tempo. */
const mostLeft = 0.3;
/** Hits at pins of the other alone, once a turn: without one, only silent pins speak against the named tune. */
const leastPlaces = 0.75;
/** Then so many of its own pins are silent, in channels of which the other's pins sound all but this share. */
const leastSilent = 3;
const mostSilentOfOther = 0.1;

/**
 * @param reading of the pattern that take.jsonc names; null where it was not found in the take
 * @returns null where the named tune explains the take as well as any, or nearly
 */
export function otherTuneOf(
  take: Take,
  machine: Machine,
  hits: Named,
  reading: Reading | null,
): OtherTune | null {
  const { tunes, tune } = machine;
  const count = hits.indices.length;
  if (tunes === undefined || tune === undefined || count === 0) return null;
  // Of turns there is no telling yet; with one, what is left is not thought less than it is.
  if (reading !== null && left(reading, count, 1) < leastMore) return null;
  const found = tunes.flatMap(({ name }) => {
    if (name === tune) return [];
    const other = ofTune(machine, name);
    const read = readAsNamed(take, other, hits);
    if (read === null) return [];
    const turns = turnsOf(read, hits, machine);
    const rest = left(read, count, turns);
    const restOfNamed = reading === null ? count / turns : left(reading, count, turns);
    const more = restOfNamed - rest;
    const clearly =
      rest <= mostLeft * restOfNamed ||
      (reading !== null && more >= leastOfIt * apart([machine, reading], [other, read], hits));
    if (more < leastMore || !clearly) return [];
    const places = (read.explainedStrokes - (reading?.explainedStrokes ?? 0)) / turns;
    const tells = places >= leastPlaces || (reading !== null && silentOfNamedAlone(reading, read));
    return tells ? [{ name, read, rest }] : [];
  });
  if (found.length === 0) return null;
  const [best, ...others] = found.sort((a, b) => a.rest - b.rest);
  return {
    named: fitOf(tune, reading, count),
    other: fitOf(best.name, best.read, count),
    orElse: others.filter(({ rest }) => rest === best.rest).map(({ name }) => name),
  };
}

/** What a reading leaves unexplained, in places without a pin that sound once a turn. */
function left({ explained, due, explainedStrokes }: Reading, count: number, turns: number): number {
  return (count - explainedStrokes) / turns + silentPin * (due - explained);
}

/** How much more a faultless take of the other tune leaves unexplained by the named one, by the pins that they do not share. */
function apart(
  [named, ofNamed]: readonly [Machine, Reading],
  [other, ofOther]: readonly [Machine, Reading],
  { hits, indices }: Named,
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

function turnsOf({ rough }: Reading, { hits, indices }: Named, { description }: Machine): number {
  const lastedS = hits.timeS[indices[indices.length - 1]] - hits.timeS[indices[0]];
  return Math.max(1, lastedS / (rough.secondsPerStep * description.barrel.steps));
}

/**
 * The named tune's pins that are silent are none of the other's, and the other's all sound: so not where a striker or a feed
 * failed, which would silence pins of both.
 */
function silentOfNamedAlone(named: Reading, other: Reading): boolean {
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
function pinsOf({ heard }: Reading): number[] {
  return heard.map((strokes) => new Set(strokes.map(({ step }) => step)).size);
}

function fitOf(tune: string, reading: Reading | null, hits: number): TuneFit {
  if (reading === null) return { tune, pins: 0, due: 0, hitsAtPins: 0, hits };
  const { explained, due, explainedStrokes } = reading;
  return { tune, pins: Math.round(explained), due, hitsAtPins: explainedStrokes, hits };
}
