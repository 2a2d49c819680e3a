/**
 * Drift: whether the tempo changes over the take, how far the beat runs away from an even one, and whether the drive wanders or
 * the strike jitters. Against a click on the same recording the recorder's clock cancels; without one it is part of the answer.
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { wobblesOf } from './wobbles.ts';
import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { overlappingAllanDeviation } from '../numbers/allan.ts';
import { studentTCdf, studentTQuantile } from '../numbers/inference.ts';
import { orthonormal } from '../numbers/sinusoid.ts';
import { clickOf } from './click.ts';
import { courseOf, detrended, type BeatCourse } from './course.ts';
import type { Section } from '../results/results.ts';
import type { Check, Study } from './check.ts';
import { capital, signedMs } from '../words/names.ts';
import { thinned } from './plot-points.ts';

/** Chance of one false drift in a take. */
const falseAlarm = 0.003;
/** Clocks of recorders may be off by so much: IEC 60958-3 level I, and level II for consumers' (second hand). */
const clockPpm = { good: 50, consumer: 1000 };
const perMillion = 1e6;

function figure(value: number): string {
  return `${Number(value.toPrecision(3))}`;
}

export interface Drift {
  /** Change of the time a beat takes from the take's start to its end, parts per million; positive slows down. */
  readonly changePpm: number;
  readonly ci95Ppm: number;
  /** What the change adds up to against an even beat that agrees at both ends: the most the beat is off, ms. */
  readonly bowMs: number;
  readonly p: number;
}

export const tempoDrift: Check = {
  id: 'tempo-drift',
  looksFor: 'A tempo that changes steadily over the take.',
  run: (study) => {
    const drift = driftOf(study);
    if (drift === null || !(drift.p < falseAlarm)) return [];
    const { changePpm, ci95Ppm, bowMs } = drift;
    const way = changePpm > 0 ? 'slows down' : 'speeds up';
    const message = `the drive ${way} by ${Math.abs(changePpm).toFixed(0)} ± ${ci95Ppm.toFixed(0)} parts per million over this take, ${Math.abs(bowMs).toFixed(1)} ms off an even beat in its middle: ${settling(study).state}`;
    return [finding('tempo-drift', message)];
  },
  section: (study) => {
    const course = courseOf(study);
    if (course === null) return null;
    const { beats, timeS, secondsPerBeat } = course;
    const first = timeS[0] - secondsPerBeat * beats[0];
    const points = Array.from(timeS, (time, i): [number, number] => [
      time,
      1000 * (time - first - secondsPerBeat * beats[i]),
    ]);
    const tempo: Section = {
      id: 'tempo-drift',
      title: 'Course of the tempo',
      sentences: [rate(study), change(study)],
      plot: {
        xLabel: 's into the take',
        yLabel: 'ms after an even beat',
        rules: [{ axis: 'y', at: 0, name: '' }],
        series: [{ name: 'reference', line: true, points: thinned(points) }],
      },
    };
    const steadiness = steadinessOf(course);
    return steadiness === null ? tempo : [tempo, steadiness];
  },
};

/**
 * The slope of the beat's length over the take: least squares with each pin's own constant (what is off at a pin every
 * turn is no drift) and the shafts found, its variance by cosines that chance with a memory cannot fool (equal-weighted
 * cosine estimate, ν = 0.4·n^(2/3): Lazarus, Lewis, Stock & Watson 2018, JBES 36:541, from memory).
 */
export function driftOf(study: Study): Drift | null {
  const course = courseOf(study);
  if (course === null) return null;
  const { beats, timeS, secondsPerBeat } = course;
  const n = beats.length;
  const span = beats[n - 1] - beats[0];
  const u = beats.map((beat) => (2 * (beat - beats[0])) / span - 1);
  const pins = [...grouped(course.step.keys(), (i) => course.step[i]).values()];
  const columns = pins.map((own) => {
    const column = new Float64Array(n);
    for (const i of own) column[i] = 1;
    return column;
  });
  const waves = (wobblesOf(study)?.found ?? []).flatMap(({ beatsPerTurn }) =>
    [Math.cos, Math.sin].map((f) => beats.map((beat) => f((2 * Math.PI * beat) / beatsPerTurn))),
  );
  const trends = orthonormal([...columns, u, ...waves]);
  if (n - trends.length < 6) return null;
  const z = detrended(
    u.map((value) => value * value),
    trends,
  );
  const y = detrended(
    timeS.map((time) => 1000 * time),
    trends,
  );
  const zz = z.reduce((sum, value) => sum + value * value, 0);
  if (!(zz > 1e-6 * n)) return null;
  const bend = z.reduce((sum, value, i) => sum + value * y[i], 0) / zz;
  const scores = z.map((value, i) => value * (y[i] - bend * value));
  const cosines = Math.max(3, Math.floor(0.4 * n ** (2 / 3)));
  let power = 0;
  for (let k = 1; k <= cosines; k++) {
    const along = scores.reduce((sum, v, i) => sum + v * Math.cos((Math.PI * k * (i + 0.5)) / n), 0);
    power += (2 / n) * along ** 2;
  }
  const memory = (n * power) / cosines;
  // No less than chance without a memory.
  const plain = scores.reduce((sum, v) => sum + v * v, 0) * (n / (n - trends.length - 1));
  const standardError = Math.sqrt(Math.max(memory, plain)) / zz;
  // y = bend·u²: d(ms)/d(beat) runs from −2·bend to +2·bend over half-spans.
  const toPpm = ((4 * bend) / (span / 2) / (1000 * secondsPerBeat)) * perMillion;
  return {
    changePpm: toPpm,
    ci95Ppm: Math.abs(toPpm / bend) * standardError * studentTQuantile(0.975, cosines),
    bowMs: -bend,
    p: 2 * studentTCdf(-Math.abs(bend / standardError), cosines),
  };
}

function rate(study: Study): string {
  const { take, machine, strokes } = study;
  const { stepsPerBeat, steps } = machine.description.barrel;
  const { secondsPerTurn, secondsPerTurnCi95 } = strokes.rotation;
  const beatS = (secondsPerTurn * stepsPerBeat) / steps;
  const bpm = 60 / beatS;
  const relative = secondsPerTurnCi95 / secondsPerTurn;
  const said = `${bpm.toFixed(4)} ± ${(bpm * relative).toFixed(4)} beats a minute`;
  const aimed = take.description.tempo;
  const click = clickOf(study);
  if (click !== null) {
    // A click every beat, or every so many: the nearest whole ratio either way.
    const ratio = click.secondsPerClick / beatS;
    const whole = ratio >= 1 ? Math.round(ratio) : 1 / Math.round(1 / ratio);
    const ppm = (ratio / whole - 1) * perMillion;
    const ci =
      NORMAL_95 * Math.hypot(relative / NORMAL_95, click.standardErrorS / click.secondsPerClick) * perMillion;
    return `${said}. Against the click on the same recording the machine is ${Math.abs(ppm).toFixed(0)} ± ${ci.toFixed(0)} parts per million ${ppm >= 0 ? 'fast' : 'slow'}, ${away(ppm)}; the recorder’s clock is in both and cancels.`;
  }
  const clock = `The recorder’s own clock is in this: up to ${clockPpm.good} parts per million for a good one (${away(clockPpm.good)}), up to ${clockPpm.consumer} for a consumer’s (IEC 60958-3); record a click on a track of its own to cancel it.`;
  if (aimed === undefined) return `${said}. ${clock}`;
  const ppm = (bpm / aimed - 1) * perMillion;
  return `${said}, ${Math.abs(ppm).toFixed(0)} ± ${(relative * perMillion).toFixed(0)} parts per million ${ppm >= 0 ? 'faster' : 'slower'} than the ${aimed} aimed at, ${away(ppm)}. ${clock}`;
}

/** What a rate off by so much adds up to. */
function away(ppm: number): string {
  return `${((Math.abs(ppm) / perMillion) * 60_000).toFixed(1)} ms a minute`;
}

function change(study: Study): string {
  const drift = driftOf(study);
  if (drift === null) return 'The take is too short to say whether the tempo changes.';
  const { changePpm, ci95Ppm, p } = drift;
  const size = `${signedMs(changePpm, 0)} ± ${ci95Ppm.toFixed(0)} parts per million from start to end`;
  return p < falseAlarm
    ? `The time a beat takes changes by ${size}: ${settling(study).advice}.`
    : `No steady change of tempo shows: the time a beat takes changes by ${size}.`;
}

/** Is it the start alone, or does it go on? By the time whole turns take; what is so, and with it what to do. */
function settling({ strokes: { rotation, turn, step }, machine }: Study): {
  readonly state: string;
  readonly advice: string;
} {
  const { steps } = machine.description.barrel;
  const own = [...rotation.referenceHits];
  const positions = own.map((i) => turn[i] * steps + step[i]);
  const first = Math.min(...positions);
  const turns = Math.floor((Math.max(...positions) - first) / steps);
  if (turns < 3) {
    const advice = 'let it run for some turns before the next take, and see whether the change is gone';
    return { state: 'too short a take to say whether it settles', advice };
  }
  const lengths = Array.from(
    { length: turns },
    (_, k) => rotation.timeAt(first + (k + 1) * steps) - rotation.timeAt(first + k * steps),
  );
  const last = lengths[turns - 1];
  const whole = last - lengths[0];
  const settled = lengths.findIndex((length) => Math.abs(last - length) < 0.2 * Math.abs(whole));
  if (settled < turns / 2) {
    const advice = `it settles after ${settled} of ${turns} turns, so let it run ${(settled * last).toFixed(0)} s before a take`;
    return { state: advice, advice };
  }
  const state = 'it goes on to the end';
  return {
    state,
    advice: `${state}, so let the drive warm up longer, or look at its regulation and its load`,
  };
}

/** The curve is clearly above the line of jitter where chance, some one over the root of the strokes apart, does not take it. */
const clearly = 3;

/** Jitter of single strikes falls as 1/τ; where the curve is clearly above that line the drive wanders. */
function steadinessWords(
  deviations: readonly number[],
  factors: readonly number[],
  strokes: number,
  tau0S: number,
  jitterMs: number,
): string {
  const times = deviations.map((deviation, i) => (deviation * factors[i]) / deviations[0]);
  const above = times.map((ratio, i) => ratio > 1 + clearly / Math.sqrt(strokes / factors[i]));
  const jitter = `single strikes jitter by about ${jitterMs.toFixed(2)} ms`;
  const from = above.indexOf(true);
  if (from === -1)
    return `${capital(jitter)}, and over no time does the beat wander by more than that explains: nothing to mend in the drive.`;
  const worst = times.reduce((best, ratio, i) => (above[i] && ratio > times[best] ? i : best), from);
  const seconds = (i: number) => `${Number((factors[i] * tau0S).toPrecision(2))} s`;
  return `${capital(jitter)}; from ${seconds(from)} on the beat wanders by more than that explains, ${times[worst].toFixed(1)} times as much over ${seconds(worst)}: that is the drive, and what the course of the tempo and the shafts show of it is where to look.`;
}

/** Over which times the beat is steadiest, from the longest run of evenly spaced strokes; null where it is too short. */
function steadinessOf({ beats, timeS, secondsPerBeat }: BeatCourse): Section | null {
  let [from, length] = [0, 0];
  for (let start = 0; start < beats.length - 1;) {
    const gap = beats[start + 1] - beats[start];
    let end = start + 1;
    while (end + 1 < beats.length && Math.abs(beats[end + 1] - beats[end] - gap) < 1e-9) end++;
    if (end - start + 1 > length) [from, length] = [start, end - start + 1];
    start = end;
  }
  if (length < 16) return null;
  const tau0S = (beats[from + 1] - beats[from]) * secondsPerBeat;
  const phase = Float64Array.from(
    { length },
    (_, i) => timeS[from + i] - (beats[from + i] - beats[from]) * secondsPerBeat,
  );
  const factors: number[] = [];
  for (let m = 1; 4 * m < length; m *= 2) factors.push(m);
  const deviations = factors.map((m) => overlappingAllanDeviation(phase, tau0S, m));
  const jitterMs = (1000 * deviations[0] * tau0S) / Math.sqrt(3);
  const sentence = steadinessWords(deviations, factors, length, tau0S, jitterMs);
  const ppm = deviations.map((deviation) => deviation * perMillion);
  const over = factors.map((m) => m * tau0S);
  return {
    id: 'beat-steadiness',
    title: 'Steadiness of the beat',
    sentences: [sentence],
    table: {
      columns: ['over, s', 'Allan deviation of the beat, ppm'],
      rows: over.map((seconds, i) => [figure(seconds), figure(ppm[i])]),
    },
    plot: {
      xLabel: 's over which it is averaged',
      yLabel: 'Allan deviation, parts per million',
      scale: 'logarithmic',
      series: [
        { name: 'the beat', line: true, points: thinned(over.map((s, i): [number, number] => [s, ppm[i]])) },
        {
          name: 'a strike’s jitter alone',
          line: true,
          points: thinned(over.map((s, i): [number, number] => [s, ppm[0] / factors[i]])),
        },
      ],
    },
  };
}
