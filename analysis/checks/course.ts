/** The barrel's course: when the reference struck against where the barrel stood, for the checks of tempo and shafts. */
import { grouped } from '../numbers/grouped.ts';
import { mean } from '../numbers/statistics.ts';
import { orthonormal } from '../numbers/sinusoid.ts';
import type { Study } from './check.ts';

export interface BeatCourse {
  /** Beats since the barrel's zero, ascending. */
  readonly beats: Float64Array;
  /** Less what is meant of the pin, s */
  readonly timeS: Float64Array;
  /** Step of each stroke's pin. */
  readonly step: Float64Array;
  readonly secondsPerBeat: number;
}

/** Fewer strokes tell nothing of a course. */
const fewestForCourse = 12;

/** null where the reference was heard too seldom. Where the drive stood still: of the stretch with most strokes. */
export function courseOf({ machine, strokes }: Study): BeatCourse | null {
  const { rotation, hits, turn, step, stands } = strokes;
  const { steps, stepsPerBeat } = machine.description.barrel;
  const all = [...rotation.referenceHits].sort((a, b) => hits.timeS[a] - hits.timeS[b]);
  const standsBefore = (i: number) => stands.filter(({ fromS }) => hits.timeS[i] > fromS).length;
  const own = [...grouped(all, standsBefore).values()].reduce(
    (most, stretch) => (stretch.length > most.length ? stretch : most),
    [],
  );
  if (!rotation.found || own.length < fewestForCourse) return null;
  const ofReference = machine.pins.filter(({ channel }) => channel === machine.reference);
  const targetsMs = new Map(ofReference.map(({ step: at, targetMs = 0 }) => [at, targetMs]));
  return {
    beats: Float64Array.from(own, (i) => (turn[i] * steps + step[i]) / stepsPerBeat),
    timeS: Float64Array.from(own, (i) => hits.timeS[i] - (targetsMs.get(step[i]) ?? 0) / 1000),
    step: Float64Array.from(own, (i) => step[i]),
    secondsPerBeat: (rotation.secondsPerTurn * stepsPerBeat) / steps,
  };
}

/** A constant, a line and, with `bend`, a square: what any take has, made orthonormal. */
export function trendsOf({ beats }: BeatCourse, bend = true): Float64Array[] {
  const middle = mean(beats);
  const half = Math.max(1, (beats[beats.length - 1] - beats[0]) / 2);
  const u = beats.map((beat) => (beat - middle) / half);
  return orthonormal([u.map(() => 1), u, ...(bend ? [u.map((value) => value * value)] : [])]);
}

/** Values less what the orthonormal trends explain of them. */
export function detrended(values: ArrayLike<number>, trends: readonly Float64Array[]): Float64Array {
  const out = Float64Array.from(values);
  for (const trend of trends) {
    const along = out.reduce((sum, value, i) => sum + value * trend[i], 0);
    for (let i = 0; i < out.length; i++) out[i] -= along * trend[i];
  }
  return out;
}
