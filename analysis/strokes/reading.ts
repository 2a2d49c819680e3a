/**
 * How the take is to be read as a whole, before single hits are given to pins: where on the barrel it lies, which
 * channels and sectors are off as a whole, whose microphones are swapped, whether the pattern reads backwards. Where
 * take and pattern agree as they are nothing else is tried.
 */
import type { Hits } from '../hits/hits.ts';
import type { Machine } from '../machine/machine.ts';
import { meantMs } from '../machine/target.ts';
import { roughRotationOf } from '../rotation/of-take.ts';
import type { RoughRotation } from '../rotation/rotation.ts';
import type { Take } from '../take/take.ts';
import { dueTimeS, matchNearest, strokesDue, type Due } from './match.ts';
import { swapped } from './swapped.ts';
import { throughReference } from './through-reference.ts';
import { asWhole, searchedSteps, type AsWhole } from './whole-steps.ts';

/** Hits that have a channel. */
export interface Named {
  readonly hits: Hits;
  /** Ascending in time. */
  readonly indices: readonly number[];
  /** How far from its pin a hit may lie at all, s. */
  readonly reachS: number;
}

/** Channels lie up to 40 ms off as built; what is left after their own lateness is known is far less. */
export const reachS = 0.06;

/** Those of a take's hits that have a channel. */
export function withChannel(hits: Hits): Named {
  return { hits, indices: [...hits.channel.keys()].filter((i) => hits.channel[i] >= 0), reachS };
}

export interface WholeStepReading extends AsWhole {
  readonly rough: RoughRotation;
  /** The course through the reference's hits, whose pins may lie off as a whole. */
  readonly timeAt: (position: number) => number;
  /** By channel, what the pattern asks for while the take lasted, and that of channels that were heard. */
  readonly strokes: readonly (readonly Due[])[];
  readonly heard: readonly (readonly Due[])[];
  /** By channel, times of the hits that sit at its pins, s. */
  readonly times: readonly Float64Array[];
  /** By channel as recorded: whose pins its sounds sit at; its own index but for swapped channels. */
  readonly sitsAt: readonly number[];
  /** true: mirrored, the pattern explains the take; as it was entered it does not. */
  readonly mirrored: boolean;
}

/** When this share of the hits is explained nothing needs another reading; of another, of the pins too. */
const wellExplained = 0.8;
/** Another reading must explain so much more. */
const clearly = 0.2;

/** @returns null where no rotation was found in any reading */
export function readingOf(take: Take, machine: Machine, named: Named): WholeStepReading | null {
  const plain = readAsNamed(take, machine, named);
  const ofHits = plain === null ? 0 : plain.explainedStrokes / named.indices.length;
  if (ofHits >= wellExplained) return plain;
  const least = Math.max(wellExplained, ofHits + clearly);
  for (const read of otherReadings(take, machine, named)) {
    const other = read();
    if (other !== null && shareOf(other, named) >= least) return other;
  }
  return plain;
}

/** The pattern as it is and every hit its channel's; null where no rotation was found. */
export function readAsNamed(take: Take, machine: Machine, named: Named): WholeStepReading | null {
  const rough = roughRotationOf(take, machine, moments(named));
  return rough.found ? readAlong(rough, machine, named) : null;
}

/** Each costs a search; the likeliest mistakes first. */
function otherReadings(take: Take, machine: Machine, named: Named): (() => WholeStepReading | null)[] {
  const { hits, indices } = named;
  const along = (rough: RoughRotation, pattern: Machine) =>
    rough.found ? readAlong(rough, pattern, named) : null;
  return [
    function withoutReference() {
      const others = indices.filter((i) => hits.channel[i] !== machine.reference);
      return along(roughRotationOf(take, machine, moments({ ...named, indices: others })), machine);
    },
    function ofAnybody() {
      const channels = [...new Set(machine.pins.map(({ channel }) => channel))];
      const anybodys = moments(named).map((moment) => ({ ...moment, channels }));
      const rough = roughRotationOf(take, machine, anybodys);
      return rough.found ? readAlong(rough, machine, named, false) : null;
    },
    function backwards() {
      const mirror = mirrored(machine);
      const back = along(roughRotationOf(take, mirror, moments(named)), mirror);
      return back && { ...back, mirrored: true };
    },
  ];
}

function moments({ hits, indices }: Named) {
  return indices.map((i) => ({ timeS: hits.timeS[i], channels: [hits.channel[i]] }));
}

/** The pattern as it would be with its steps counted the other way round. */
function mirrored(machine: Machine): Machine {
  const { steps } = machine.description.barrel;
  const pins = machine.pins.map((pin) => ({ ...pin, step: (steps - pin.step) % steps }));
  return { ...machine, pins: pins.sort((a, b) => a.step - b.step) };
}

/** @param byName whether the reference's hits can be taken for the reference's before it is known whose pins each channel sits at */
function readAlong(found: RoughRotation, machine: Machine, named: Named, byName = true): WholeStepReading {
  const { hits, indices } = named;
  const rough = asMeant(found, machine);
  const room = 1 + named.reachS / rough.secondsPerStep;
  const from = rough.positionAt(hits.timeS[indices[0]]) - room;
  const to = rough.positionAt(hits.timeS[indices[indices.length - 1]]) + room;
  const strokes = strokesDue(machine, from, to);
  const own = strokes.map((_, c) => indices.filter((i) => hits.channel[i] === c));
  const itself = [...own.keys()];
  const read = (sitsAt: readonly number[], ofReference: boolean): WholeStepReading => {
    const of = itself.map((c) => own[sitsAt.indexOf(c)]);
    const { timeAt, secondsPerStep } = ofReference
      ? alongReference(machine, hits, of, strokes, rough)
      : rough;
    const times = of.map((list) => Float64Array.from(list, (i) => hits.timeS[i]));
    const due = strokes.map((list, c) => (times[c].length > 0 ? list : []));
    const whole = asWhole(machine, times, due, timeAt, secondsPerStep);
    return { ...whole, rough, timeAt, strokes, sitsAt, times, heard: due, mirrored: false };
  };
  const plain = read(itself, byName);
  const sitsAt = swapped(machine, plain);
  return sitsAt.every((at, c) => at === c) ? plain : read(sitsAt, true);
}

/**
 * The search for the rotation knows of places alone: what is meant of a channel is in its lateness there, and what is meant
 * of the reference in the course.
 */
function asMeant(rough: RoughRotation, machine: Machine): RoughRotation {
  if (machine.pins.every(({ targetMs }) => targetMs === undefined)) return rough;
  const targetS = machine.description.channels.map((_, c) => meantMs(machine, c, null) / 1000);
  const ofReferenceS = targetS[machine.reference];
  return {
    ...rough,
    timeAt: (position) => rough.timeAt(position) - ofReferenceS,
    offsetS: rough.offsetS.map((offsetS, c) => offsetS + ofReferenceS - targetS[c]),
  };
}

/**
 * The course as the reference alone tells it, its hits given to its nearest pins. The rough course lies between all that
 * was heard, and bends where a sector is off; the reference's pins lie mostly so far apart that the bend makes none another's.
 */
function alongReference(
  machine: Machine,
  hits: Hits,
  own: readonly (readonly number[])[],
  strokes: readonly (readonly Due[])[],
  rough: RoughRotation,
): { timeAt: (position: number) => number; secondsPerStep: number } {
  const { reference } = machine;
  const due = strokes[reference];
  const dueS = due.map((stroke) => dueTimeS(stroke, rough.timeAt));
  const nearest = dueS.slice(1).reduce((least, timeS, k) => Math.min(least, timeS - dueS[k]), Infinity);
  const of = matchNearest(
    own[reference].map((i) => hits.timeS[i]),
    dueS,
    Math.min(searchedSteps * rough.secondsPerStep, nearest / 2),
  );
  const pairs = own[reference].flatMap((hit, k) =>
    of[k] < 0 ? [] : [{ hit, due: due[of[k]], latenessS: hits.timeS[hit] - dueS[of[k]] }],
  );
  return throughReference(machine, hits, pairs)?.rotation ?? rough;
}

/** Of the strokes heard and due, the share that a reading explains. */
function shareOf({ explained, due, explainedStrokes }: WholeStepReading, { indices }: Named): number {
  return Math.min(explained / due, explainedStrokes / indices.length);
}
