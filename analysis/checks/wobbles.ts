/** Which shafts' turns show in the course of the barrel, and which these hits cannot show: least squares of a sine at each. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { grouped } from '../numbers/grouped.ts';
import { fitSinusoid, orthonormal, type Sinusoid } from '../numbers/sinusoid.ts';
import { mean, median } from '../numbers/statistics.ts';
import type { Study } from './check.ts';
import { courseOf, trendsOf, detrended, type BeatCourse } from './course.ts';
import { shafts, type Shaft } from './shafts.ts';

/** Chance of one false shaft in a take, and of one false period that is no shaft's. */
const falseAlarm = 0.012;
/** A period must come round so often before it is one. */
const leastRounds = 3;
/** Frequencies looked at, between two that could be told apart. */
const oversampling = 4;
/** A take of hours is looked through no finer than this. */
const mostFrequencies = 3000;
/** A peak stands out from the wander around it when it passes what is usual there. */
const neighbourhood = 2;

export interface Wobble {
  /** null: a period that is no known shaft's. */
  readonly shaft: Shaft | null;
  readonly beatsPerTurn: number;
  /** true: it comes back at the same pins every turn of the barrel. */
  readonly locked: boolean;
  readonly amplitudeMs: number;
  readonly ci95Ms: number;
  /** Of the shaft's own turn. */
  readonly amplitudeDegrees: number;
  /** Chance of so strong a period where there is none, of all that were tried. */
  readonly p: number;
  /** Shafts that would make the same lateness at these hits. */
  readonly alike: readonly Shaft[];
}

export interface Wobbles {
  readonly found: readonly Wobble[];
  /** Shafts that these hits cannot show at all. */
  readonly hidden: readonly Shaft[];
  /** Shafts that turn a whole number of times a turn of the barrel: they look like pins of the reference. */
  readonly locked: readonly Shaft[];
  /** Greatest distance, in beats, of which the distances between all hits are multiples. */
  readonly gridBeats: number;
  /** Every period looked at, the longest first; `limitMs` is what scatter without any period stays below. */
  readonly spectrum: readonly {
    readonly beats: number;
    readonly amplitudeMs: number;
    readonly limitMs: number;
  }[];
}

const worked = new WeakMap<Study, Wobbles | null>();

/** null where the reference was heard too seldom. Worked out once a study: several checks ask. */
export function wobblesOf(study: Study): Wobbles | null {
  let wobbles = worked.get(study);
  if (wobbles === undefined) worked.set(study, (wobbles = workOut(study)));
  return wobbles;
}

/**
 * What of a wobble that is locked to the barrel the smooth rotation did not follow, since it looks like pins of the
 * reference: ms by step, as the reference's own lateness shows it. All that strikes there carries it, and no pin is to blame.
 */
export function lockedWobbleMs(study: Study): (step: number) => number {
  const { machine, strokes } = study;
  const { steps, stepsPerBeat } = machine.description.barrel;
  const turnBeats = steps / stepsPerBeat;
  const waves = (wobblesOf(study)?.found ?? []).filter(({ locked }) => locked);
  const own = strokes.rotation.referenceHits;
  const x = Float64Array.from(own, (i) => strokes.step[i] / stepsPerBeat);
  const y = Float64Array.from(own, (i) => strokes.latenessMs[i]);
  const fits = waves.flatMap(({ beatsPerTurn }) => {
    const fit = fitSinusoid(x, y, 1 / beatsPerTurn, orthonormal([x.map(() => 1)]));
    return fit === null ? [] : [{ ...fit, times: turnBeats / beatsPerTurn }];
  });
  return (step) =>
    fits.reduce(
      (sum, { amplitude, phase, times }) =>
        sum + amplitude * Math.cos((2 * Math.PI * times * step) / steps - phase),
      0,
    );
}

function workOut(study: Study): Wobbles | null {
  const course = courseOf(study);
  if (course === null) return null;
  const all = shafts(study.machine);
  const { steps, stepsPerBeat } = study.machine.description.barrel;
  const turnBeats = steps / stepsPerBeat;
  const whole = (turns: number) => Math.abs(turns - Math.round(turns)) < 1e-9 * Math.max(1, turns);
  const gridBeats = gridOf(course, stepsPerBeat);
  const hidden = all.filter(({ beatsPerTurn }) => whole(gridBeats / beatsPerTurn));
  const seen = all.filter((shaft) => !hidden.includes(shaft));
  const locked = seen.filter(({ beatsPerTurn }) => whole(turnBeats / beatsPerTurn));
  const span = course.beats[course.beats.length - 1] - course.beats[0];
  const free = samplesOf(course);
  const byPin = pinSamples(course);
  const candidates = seen.filter(
    (shaft) => locked.includes(shaft) || span >= leastRounds * shaft.beatsPerTurn,
  );
  const alikeTo = (beatsPerTurn: number, self: Shaft | null) =>
    candidates.filter(
      (other) =>
        other !== self && foldTogether(1 / beatsPerTurn, 1 / other.beatsPerTurn, gridBeats, 1 / span),
    );
  const found: Wobble[] = [];
  const make = (shaft: Shaft | null, beatsPerTurn: number, fit: Sinusoid, p: number): Wobble => ({
    shaft,
    beatsPerTurn,
    locked: shaft !== null && locked.includes(shaft),
    amplitudeMs: fit.amplitude,
    ci95Ms: NORMAL_95 * fit.standardError,
    amplitudeDegrees:
      (fit.amplitude / (1000 * (shaft?.harmonic ? turnBeats : beatsPerTurn) * course.secondsPerBeat)) * 360,
    p,
    alike: alikeTo(beatsPerTurn, shaft),
  });
  for (const shaft of candidates) {
    // A second shaft that folds onto the first is no second find.
    if (found.some((other) => other.alike.includes(shaft))) continue;
    const samples = locked.includes(shaft) ? byPin : free;
    const fit = fitSinusoid(samples.x, samples.y, 1 / shaft.beatsPerTurn, samples.trends);
    if (fit === null) continue;
    const p = Math.min(1, candidates.length * fit.p);
    if (p < falseAlarm && (samples === byPin || standsOut(samples, 1 / shaft.beatsPerTurn, span, fit)))
      found.push(make(shaft, shaft.beatsPerTurn, fit, p));
  }
  const { strongest, spectrum } = search(free, span, gridBeats);
  const taken = (f: number) =>
    [...seen, ...found].some(({ beatsPerTurn }) => foldTogether(f, 1 / beatsPerTurn, gridBeats, 2 / span)) ||
    whole(turnBeats * f);
  if (strongest !== null && strongest.p < falseAlarm && !taken(strongest.frequency)) {
    const turns = turnBeats * strongest.frequency;
    // What nearly comes back every turn is the reference's pins as well as anything.
    if (Math.abs(turns - Math.round(turns)) > (turnBeats / span) * 1.5)
      found.push(make(null, 1 / strongest.frequency, strongest.fit, strongest.p));
  }
  const real = (list: readonly Shaft[]) => list.filter(({ harmonic }) => !harmonic);
  return { found, hidden: real(hidden), locked: real(locked), gridBeats, spectrum };
}

/** Half-width of the 95 % interval of one shaft's amplitude, ms; null where these hits cannot show it. */
export function wobbleInterval(study: Study, shaft: Shaft): number | null {
  const course = courseOf(study);
  const span = course === null ? 0 : course.beats[course.beats.length - 1] - course.beats[0];
  if (course === null || span < leastRounds * shaft.beatsPerTurn) return null;
  const { x, y, trends } = samplesOf(course);
  const fit = fitSinusoid(x, y, 1 / shaft.beatsPerTurn, trends);
  return fit && NORMAL_95 * fit.standardError;
}

interface Samples {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly trends: readonly Float64Array[];
}

/** Every stroke; each pin's own constant is a trend of its own where pins came round often enough to have one. */
function samplesOf(course: BeatCourse): Samples {
  const y = course.timeS.map((time) => 1000 * time);
  const x = Float64Array.from(course.beats);
  return { x, y: detrended(y, trendsOf(course)), trends: trendsOf(course) };
}

/** One sample a pin: what differs between pins is then part of the scatter that a sine must stand out from. */
function pinSamples(course: BeatCourse): Samples {
  const rest = detrended(
    course.timeS.map((time) => 1000 * time),
    trendsOf(course),
  );
  const pins = [...grouped(course.step.keys(), (i) => course.step[i])].sort(([a], [b]) => a - b);
  const x = Float64Array.from(pins, ([, own]) => course.beats[own[0]]);
  const y = Float64Array.from(pins, ([, own]) => mean(own.map((i) => rest[i])));
  return { x, y, trends: orthonormal([x.map(() => 1)]) };
}

/** Power there against what is usual around it: a drive that wanders slowly has much of everything slow. */
function standsOut({ x, y, trends }: Samples, frequency: number, span: number, fit: Sinusoid): boolean {
  const around: number[] = [];
  const step = (frequency * (neighbourhood - 1 / neighbourhood)) / 40;
  for (let f = frequency / neighbourhood; f <= frequency * neighbourhood; f += step) {
    if (Math.abs(f - frequency) < 2 / span) continue;
    const other = fitSinusoid(x, y, f, trends);
    if (other !== null) around.push(other.amplitude ** 2);
  }
  if (around.length < 8) return true;
  // Squared amplitudes of noise are exponential: their median is ln 2 of their mean.
  return Math.exp((-Math.LN2 * fit.amplitude ** 2) / median(around)) < falseAlarm;
}

/** The strongest period of all that come round often enough, up to the highest frequency that the grid shows. */
function search(samples: Samples, span: number, gridBeats: number) {
  const lowest = leastRounds / span;
  const highest = 0.5 / gridBeats;
  const count = Math.min(mostFrequencies, Math.ceil((highest - lowest) * span * oversampling));
  // As many independent tries as frequencies that could be told apart, doubled since they lie between too
  // (Baluev 2008, MNRAS 385:1279, gives this order of size).
  const tries = 2 * (highest - lowest) * span;
  let best: { frequency: number; fit: Sinusoid } | null = null;
  const spectrum: { beats: number; amplitudeMs: number; limitMs: number }[] = [];
  for (let i = 0; i < count; i++) {
    const frequency = lowest + ((highest - lowest) * i) / count;
    const fit = fitSinusoid(samples.x, samples.y, frequency, samples.trends);
    if (fit === null) continue;
    if (best === null || fit.p < best.fit.p) best = { frequency, fit };
    spectrum.push({ beats: 1 / frequency, amplitudeMs: fit.amplitude, limitMs: limitOf(fit, tries) });
  }
  const sure = best !== null && standsOut(samples, best.frequency, span, best.fit);
  const strongest = sure ? { ...best!, p: Math.min(1, tries * best!.fit.p) } : null;
  return { strongest, spectrum };
}

/** The amplitude at which a fit's chance, over all tries, falls to the false alarm: F = (A/s)²/2 has 2 and ν degrees. */
function limitOf({ standardError, degreesOfFreedom }: Sinusoid, tries: number): number {
  const left = Math.min(1, falseAlarm / Math.max(1, tries)) ** (2 / degreesOfFreedom);
  return standardError * Math.sqrt(degreesOfFreedom * (1 / left - 1));
}

/** Two frequencies that are one at hits on this grid: their sum or difference is a whole number of times the grid's. */
function foldTogether(a: number, b: number, gridBeats: number, resolution: number): boolean {
  return [a - b, a + b].some((f) => {
    const away = f * gridBeats;
    return Math.abs(away - Math.round(away)) / gridBeats < resolution;
  });
}

/** Of which length, in beats, all distances between the reference's pins are multiples. */
function gridOf({ step }: BeatCourse, stepsPerBeat: number): number {
  const distinct = [...new Set(step)].sort((a, b) => a - b);
  const grid = distinct.slice(1).reduce((g, value) => gcd(g, value - distinct[0]), 0);
  return (grid === 0 ? stepsPerBeat : grid) / stepsPerBeat;
}

function gcd(a: number, b: number): number {
  return b === 0 ? a : gcd(b, a % b);
}
