/** The smooth rotation: a curve through the reference's strokes that follows the drive and not the reference's own chance. */
import { median, robustSd } from '../numbers/statistics.ts';
import { evaluate } from '../numbers/spline.ts';
import { solveModel, type DriftModel, type SolvedModel } from './drift-model.ts';

/** The reference's strokes, ascending in position, no two alike. */
export interface ReferenceStrokes {
  /** Unwrapped, steps */
  readonly position: Float64Array;
  readonly timeS: Float64Array;
  /** Sector of each stroke; −1 throughout where the reference is not on the barrel. */
  readonly sector: Int32Array;
  /** Standard deviation of a time from hearing alone, s. */
  readonly hearingSdS: number;
}

export interface SmoothRotation {
  /** Which of the strokes it was fitted to; the others lie too far off to be chance. */
  readonly used: Int32Array;
  readonly timeAt: (position: number) => number;
  readonly secondsPerStep: number;
  /** Stretches in which the drive stood, first and last position. */
  readonly stood: readonly (readonly [number, number])[];
}

/** Without a third stroke there is a line, and nothing to tell chance from. */
export const fewestForCurve = 3;
/** Chance passes six standard deviations once in 5·10⁸ strokes. */
const wildSds = 6;
const mostSweeps = 4;
/** Below so many strokes a spread says too little to call one of them wild. */
const leastToJudge = 8;
/** A clock's tick: no recording is exact beyond it. */
const leastSdS = 1e-6;
/** Between two strokes the drive stood where the time is so much longer than in the stretches around. */
const standRatio = 1.3;
const stretch = 4;

/** By the reference's strokes alone; null of fewer than three. How sure it is, course.ts says. */
export function fitRotation(strokes: ReferenceStrokes): SmoothRotation | null {
  let used = Int32Array.from(strokes.position.keys());
  for (let sweep = 0; ; sweep++) {
    if (used.length < fewestForCurve) return null;
    const fit = fitUsed(strokes, used);
    if (sweep === mostSweeps || used.length < leastToJudge) return fit.rotation;
    const spread = Math.max(robustSd(fit.rests), strokes.hearingSdS, leastSdS);
    const middle = median(fit.rests);
    const kept = used.filter((_, i) => Math.abs(fit.rests[i] - middle) <= wildSds * spread);
    // Where a quarter and more would go it is not single strokes that are wild.
    if (kept.length === used.length || kept.length < 0.75 * used.length) return fit.rotation;
    used = kept;
  }
}

function fitUsed(
  strokes: ReferenceStrokes,
  used: Int32Array,
): { rotation: SmoothRotation; rests: Float64Array } {
  const x = Float64Array.from(used, (i) => strokes.position[i]);
  const y = Float64Array.from(used, (i) => strokes.timeS[i]);
  const sectorOf = Int32Array.from(used, (i) => strokes.sector[i]);
  const sectors = [...new Set(sectorOf)].filter((sector) => sector >= 0).sort((a, b) => a - b);
  // Steps that sum to zero: the first sector's is the others' sum turned over.
  const columns = sectors
    .slice(1)
    .map((sector) => Float64Array.from(sectorOf, (s) => (s === sector ? 1 : 0) - (s === sectors[0] ? 1 : 0)));
  const enough = x.length - 2 - columns.length >= 1;
  const loose = stands(x, y);
  const base = { x, columns: enough ? columns : [], loose };
  const leastVariance = Math.max(strokes.hearingSdS, leastSdS) ** 2;
  const model: DriftModel = { ...base, wander: likeliestWander(base, y, leastVariance) };
  const solved = solveModel(model, y);
  const rests = restsOf(model, solved, y);
  // Zero is the reference's own mean: what its strokes lie off the curve on average is put on the curve.
  const zeroS = y.reduce((sum, time, i) => sum + time - solved.values[i], 0) / y.length;
  return {
    rotation: {
      used,
      timeAt: (position) => evaluate(x, solved.values, solved.bends, position) + zeroS,
      secondsPerStep: (solved.values[x.length - 1] - solved.values[0]) / (x[x.length - 1] - x[0]),
      stood: Array.from(loose.keys())
        .filter((i) => loose[i] === 1)
        .map((i): [number, number] => [x[i], x[i + 2]]),
    },
    rests,
  };
}

/** What is left of each stroke besides the curve and its sector's step. */
function restsOf(model: DriftModel, { values, coefficients }: SolvedModel, y: Float64Array): Float64Array {
  return y.map(
    (time, i) =>
      time - values[i] - model.columns.reduce((sum, column, j) => sum + coefficients[j] * column[i], 0),
  );
}

const decades = Array.from({ length: 19 }, (_, i) => i - 17);
/** The wander that makes the strokes likeliest, over ε's variance: restricted maximum likelihood, as in numbers/spline.ts. */
function likeliestWander(base: Omit<DriftModel, 'wander'>, y: Float64Array, leastVariance: number): number {
  const { x } = base;
  if (x.length - 2 - base.columns.length < 2) return 0;
  const likelihood = (wander: number) => {
    const { squares, freedom, logDeterminant } = solveModel({ ...base, wander }, y);
    const noise = Math.max(squares / freedom, leastVariance);
    return -0.5 * (logDeterminant + squares / noise + freedom * Math.log(noise));
  };
  const unit = ((x[x.length - 1] - x[0]) / (x.length - 1)) ** -3;
  const at = (decade: number) => likelihood(unit * 10 ** decade);
  let best = likelihood(0);
  let centre = decades[0];
  const look = (decade: number) => {
    const here = at(decade);
    if (here > best) [best, centre] = [here, decade];
  };
  decades.forEach(look);
  for (const halves of [0.5, 0.25, 0.125]) [centre - halves, centre + halves].forEach(look);
  // No more bend than the strokes ask for.
  return best > likelihood(0) + 1e-6 ? unit * 10 ** centre : 0;
}

/** Inner knots beside an interval in which the drive stood. */
function stands(x: Float64Array, y: Float64Array): Uint8Array {
  const loose = new Uint8Array(Math.max(0, x.length - 2));
  const slopes = Float64Array.from({ length: x.length - 1 }, (_, i) => (y[i + 1] - y[i]) / (x[i + 1] - x[i]));
  for (let i = 0; i < slopes.length; i++) {
    const near = Array.from(slopes.subarray(Math.max(0, i - stretch), i + stretch + 1));
    if (near.length < stretch || !(slopes[i] > standRatio * median(near))) continue;
    if (i > 0) loose[i - 1] = 1;
    if (i < loose.length) loose[i] = 1;
  }
  return loose;
}
