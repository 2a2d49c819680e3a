/**
 * Shaft wobble: the barrel's course rises and falls with a turn of one of the drive's shafts, or of the barrel. Which
 * shafts these hits cannot show, and which they cannot tell apart, is said too: hits come locked to the beat, so a shaft that turns
 * a whole number of times between them always stands the same.
 */
import { NORMAL_95 } from '../numbers/inference.ts';
import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { fitSinusoid, orthonormal, type Sinusoid } from '../numbers/sinusoid.ts';
import { mean, median } from '../numbers/statistics.ts';
import type { Machine } from '../machine/machine.ts';
import { courseOf, trendsOf, without, type Course } from './course.ts';
import type { SectionPlot } from '../results/results.ts';
import type { Check, Study } from './check.ts';
import { capital, listed } from '../words/names.ts';
import { thinned } from './plot-points.ts';

/** Chance of one false shaft in a take, and of one false period that is no shaft's. */
const falseAlarm = 0.012;
/** A period must come round so often before it is one. */
const leastRounds = 3;
/** Frequencies looked at, between two that could be told apart. */
const oversampling = 4;
/** A take of hours is looked through no finer than this. */
const mostFrequencies = 3000;
/** Points of the plot. */
const periodsDrawn = 150;
/** A peak stands out from the wander around it when it passes what is usual there. */
const neighbourhood = 2;

export interface Shaft {
  readonly name: string;
  readonly beatsPerTurn: number;
  /** true: no shaft of its own, but what the barrel or its chain does several times a turn. */
  readonly harmonic?: boolean;
}

/** An oval or a chain's long link comes round a few times in a turn of the barrel. */
const harmonics = [2, 3, 4];

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

export const shaftWobble: Check = {
  id: 'shaft-wobble',
  looksFor: 'A course of the barrel that rises and falls with one of the drive’s shafts.',
  run: (study) =>
    beyondRounding(study, wobblesOf(study)?.found ?? []).map((wobble) =>
      finding('shaft-wobble', sentence(study, wobble)),
    ),
  section: (study) => {
    const wobbles = wobblesOf(study);
    const course = courseOf(study);
    if (wobbles === null || course === null) return null;
    const { hidden, locked, gridBeats } = wobbles;
    const found = beyondRounding(study, wobbles.found);
    const sentences = found.map((wobble) => `${capital(sentence(study, wobble))}.`);
    if (found.length === 0) sentences.push('No shaft’s turn shows in the course of this take.');
    if (hidden.length > 0)
      sentences.push(
        `Not to be seen with these hits: ${names(hidden)}. All hits of the reference lie on a grid of ${beatsOf(gridBeats)}, in which they turn a whole number of times. A pin of the reference off that grid would show them, or a reference on another shaft.`,
      );
    if (locked.length > 0)
      sentences.push(
        `Locked to the barrel: ${names(locked)}. Their wobble comes back at the same pins every turn and looks like pins of the reference that are off; only that it follows a sine over the pins speaks for a shaft. A recording of the shaft itself would settle it.`,
      );
    return { id: 'shaft-wobble', title: 'Shafts', sentences, plot: periodogram(wobbles, study.machine) };
  },
};

/** Rounded times beat against an even pulse: no time is moved by more than half a step, so no shaft is blamed for less. */
function beyondRounding({ strokes: { stepMs = 0 } }: Study, found: readonly Wobble[]): Wobble[] {
  return found.filter(({ amplitudeMs }) => amplitudeMs > stepMs / 2);
}

/** How strongly the course rises and falls with every period, and where the shafts are. */
function periodogram({ spectrum, hidden, gridBeats }: Wobbles, machine: Machine): SectionPlot {
  const [longest, shortest] = [spectrum[0]?.beats ?? 0, spectrum.at(-1)?.beats ?? 0];
  const shown = shafts(machine).filter(
    (shaft) =>
      !shaft.harmonic &&
      !hidden.includes(shaft) &&
      shaft.beatsPerTurn <= longest &&
      shaft.beatsPerTurn >= shortest,
  );
  // A shaft that turns faster than the hits come shows at the period onto which it folds.
  const folded = shafts(machine).flatMap((shaft) => {
    if (shaft.harmonic || hidden.includes(shaft) || shaft.beatsPerTurn >= shortest) return [];
    const turns = gridBeats / shaft.beatsPerTurn;
    const away = Math.abs(turns - Math.round(turns)) / gridBeats;
    return 1 / away <= longest ? [{ at: 1 / away, name: `${shaft.name}, folded` }] : [];
  });
  // Only the strongest of each stretch: valleys between peaks say nothing.
  const stretch = Math.max(1, Math.ceil(spectrum.length / periodsDrawn));
  const peaks = spectrum.flatMap((_, i) =>
    i % stretch === 0
      ? [spectrum.slice(i, i + stretch).reduce((a, b) => (b.amplitudeMs > a.amplitudeMs ? b : a))]
      : [],
  );
  const line = (of: (one: Wobbles['spectrum'][number]) => number) =>
    thinned(peaks.map((one): [number, number] => [one.beats, of(one)]));
  return {
    xLabel: 'beats a turn',
    yLabel: 'ms late and early',
    scale: 'logarithmic',
    rules: [
      ...shown.map(({ beatsPerTurn, name }) => ({ axis: 'x' as const, at: beatsPerTurn, name })),
      ...folded.map(({ at, name }) => ({ axis: 'x' as const, at, name })),
    ],
    series: [
      { name: 'the course of the barrel', line: true, points: line(({ amplitudeMs }) => amplitudeMs) },
      { name: 'what scatter alone may reach', line: true, points: line(({ limitMs }) => limitMs) },
    ],
  };
}

function sentence(
  study: Study,
  { shaft, beatsPerTurn, locked, amplitudeMs, ci95Ms, amplitudeDegrees, p, alike }: Wobble,
) {
  const course = courseOf(study)!;
  const seconds = round(beatsPerTurn * course.secondsPerBeat);
  const what =
    shaft === null
      ? `something turns once every ${beatsOf(beatsPerTurn)} (${seconds} s), which is none of the shafts under "drive" in machine.jsonc,`
      : `the ${shaft.name} (a turn in ${beatsOf(beatsPerTurn)}, ${seconds} s)`;
  const angle =
    shaft === null
      ? ''
      : `, ${amplitudeDegrees.toFixed(2)}° of ${shaft.harmonic ? 'the barrel’s' : 'its'} turn`;
  const others =
    alike.length === 0
      ? ''
      : `; these hits cannot tell it from ${names(alike)}: ${apartBy(study, beatsPerTurn, alike)}`;
  const instead = locked
    ? '; it comes back at the same pins every turn, so look at this shaft before blaming the reference’s pins'
    : '';
  return `${what} makes the beat late and early by ${amplitudeMs.toFixed(2)} ± ${ci95Ms.toFixed(2)} ms${angle} (false alarm ${p.toPrecision(1)})${others}${instead}; mended, the beat would be steadier by that, while strikers keep their places against each other`;
}

/** What would tell two shafts apart: a pin off the grid where they fold onto each other, or a longer take where they lie too close. */
function apartBy(study: Study, beatsPerTurn: number, alike: readonly Shaft[]): string {
  const { gridBeats } = wobblesOf(study)!;
  const { beats } = courseOf(study)!;
  const span = beats[beats.length - 1] - beats[0];
  const nearest = Math.min(...alike.map((other) => Math.abs(1 / beatsPerTurn - 1 / other.beatsPerTurn)));
  return nearest < 1 / span
    ? `a take of ${Math.ceil(1 / nearest)} beats or more would`
    : `a pin of the reference off its grid of ${beatsOf(gridBeats)} would`;
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

/** The barrel and every shaft of the drive, slowest stage last to first. */
export function shafts({ description: { barrel, drive } }: Machine): Shaft[] {
  const turnBeats = barrel.steps / barrel.stepsPerBeat;
  const all: Shaft[] = [{ name: 'barrel’s shaft', beatsPerTurn: turnBeats }];
  const oval = harmonics.map((times) => ({
    name: `barrel or its chain, ${times} times a turn of the barrel`,
    beatsPerTurn: turnBeats / times,
    harmonic: true,
  }));
  if (drive === undefined) return [...all, ...oval];
  let beatsPerTurn = drive.beatsPerOutputTurn;
  if (Math.abs(beatsPerTurn - turnBeats) > 1e-9 * turnBeats)
    all.push({ name: `output of ${drive.stages.at(-1)?.name ?? 'the drive'}`, beatsPerTurn });
  for (const { name, ratio } of drive.stages.toReversed()) {
    beatsPerTurn /= ratio;
    all.push({ name: `input of ${name}`, beatsPerTurn });
  }
  // What a shaft of the drive does anyway needs no second name.
  const isShaft = (beats: number) => all.some((shaft) => Math.abs(shaft.beatsPerTurn / beats - 1) < 1e-9);
  return [...all, ...oval.filter(({ beatsPerTurn: beats }) => !isShaft(beats))];
}

interface Samples {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly trends: readonly Float64Array[];
}

/** Every stroke; each pin's own constant is a trend of its own where pins came round often enough to have one. */
function samplesOf(course: Course): Samples {
  const y = course.timeS.map((time) => 1000 * time);
  const x = Float64Array.from(course.beats);
  return { x, y: without(y, trendsOf(course)), trends: trendsOf(course) };
}

/** One sample a pin: what differs between pins is then part of the scatter that a sine must stand out from. */
function pinSamples(course: Course): Samples {
  const rest = without(
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
function gridOf({ step }: Course, stepsPerBeat: number): number {
  const distinct = [...new Set(step)].sort((a, b) => a - b);
  const grid = distinct.slice(1).reduce((g, value) => gcd(g, value - distinct[0]), 0);
  return (grid === 0 ? stepsPerBeat : grid) / stepsPerBeat;
}

function gcd(a: number, b: number): number {
  return b === 0 ? a : gcd(b, a % b);
}

function names(list: readonly Shaft[]): string {
  return listed(list.map(({ name, beatsPerTurn }) => `the ${name} (a turn in ${beatsOf(beatsPerTurn)})`));
}

function beatsOf(value: number): string {
  return `${round(value)} ${round(value) === '1' ? 'beat' : 'beats'}`;
}

function round(value: number): string {
  return `${Number(value.toPrecision(3))}`;
}
