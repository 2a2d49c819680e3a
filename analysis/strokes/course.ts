/**
 * The barrel's course during a take, told by all channels that strike often enough, and how sure it is. Zero is the
 * reference's own mean: the others help to tell how the barrel moved between its strikes, never where zero lies.
 */
import { robustSd } from '../numbers/statistics.ts';
import { studentTQuantile } from '../numbers/inference.ts';
import { solveCourse, type CourseData, type SolvedCourse, type Variances } from './course-model.ts';
import { fitVariances, type FittedVariances } from './course-variances.ts';
import { lockedSwing } from './locked-swing.ts';
import { inStepWith, standingSwing } from './periods.ts';
import { middleOf, timekeepers, type Keeper, type KeptStrokes } from './timekeepers.ts';
import type { Chance, CourseErrors } from './strokes.ts';
import { wanderSeen } from './wander.ts';
import { wildFrom } from './wild.ts';

export interface Course {
  /** Of the strokes handed in, those it was fitted to. */
  readonly used: Int32Array;
  /** Those of the reference, as hits. */
  readonly referenceHits: Int32Array;
  /** s */
  readonly timeAt: (position: number) => number;
  readonly errors: CourseErrors;
  readonly secondsPerStep: number;
  readonly secondsPerStepCi95: number;
  /** Period of a swing of the drive that the reference's strokes always meet at the same place, steps; null where none is. */
  readonly swingInStep: number | null;
  readonly sectors: readonly { readonly sector: number; readonly stepMs: number; readonly ci95Ms: number }[];
}

const mostSweeps = 3;
/** Swings that a course is given beside its wander. */
const mostRates = 2;
/** And of those that divide the turn exactly, so many. */
const mostLocked = 2;
/** Of fewer strokes a spread says too little to call one of them wild. */
const leastToJudge = 8;
/** Where more of a keeper's strokes lie far off, it is not single strokes that are wild. */
const mostWild = 0.25;
/** An interval on less than one degree of freedom says nothing. */
const leastFreedom = 1;

/** @returns null where the reference struck fewer than three times */
export function fitCourse(strokes: KeptStrokes): Course | null {
  let used = Int32Array.from(strokes.position.keys());
  let rates: readonly number[] = [];
  let locked: readonly number[] = [];
  let near: Variances | undefined;
  let keepers: readonly Keeper[] | undefined;
  for (let sweep = 0; ; sweep++) {
    const kept = timekeepers(strokes, used, { rates, keepers });
    if (kept === null) return null;
    keepers = kept.keepers;
    const few = middleOf(strokes, kept, rates);
    const fitted = fitVariances(few.data, few.start, few.least, near);
    near = fitted.variances;
    const solved = solveCourse(kept.data, fitted.variances);
    const wild = sweep < mostSweeps ? wildOf(kept.data, solved, fitted, kept.least) : new Set<number>();
    const out = new Set(Array.from(wild, (i) => kept.of[i]));
    used = used.filter((i) => !out.has(i));
    const rate =
      rates.length - locked.length < mostRates
        ? standingSwing(few.data, solveCourse(few.data, fitted.variances))
        : null;
    if (rate !== null) rates = [...rates, rate];
    if (wild.size === 0 && rate === null) {
      const course = described(kept, fitted, solved, strokes);
      const lateMs = (i: number) => 1000 * (strokes.timeS[i] - course.timeAt(strokes.position[i]));
      const found = locked.length < mostLocked ? lockedSwing(strokes, used, lateMs, rates) : null;
      if (found !== null) {
        locked = [...locked, found];
        rates = [...rates, found];
        continue;
      }
      const at = kept.of.filter((i) => strokes.channel[i] === strokes.reference);
      const inStep = rates.find((one) =>
        inStepWith(
          one,
          Array.from(at, (i) => strokes.position[i]),
        ),
      );
      return { ...course, swingInStep: inStep === undefined ? null : (2 * Math.PI) / inStep };
    }
  }
}

/** Strokes of the model so far from course, pin and group that chance is out. */
function wildOf(
  data: CourseData,
  { left }: SolvedCourse,
  { variances }: FittedVariances,
  least: Float64Array,
): Set<number> {
  const rests = Array.from({ length: data.keepers }, () => [] as { i: number; rest: number }[]);
  left.strokes.forEach((value, i) =>
    rests[data.keeper[i]].push({ i, rest: value * variances.chance[data.keeper[i]] }),
  );
  const wild = rests.flatMap((own, k) => {
    if (own.length < leastToJudge) return [];
    const spread = Math.max(robustSd(own.map(({ rest }) => rest)), Math.sqrt(least[k]));
    const pins = new Set(own.map(({ i }) => data.pin[i])).size;
    const sds = wildFrom(own.length - pins);
    const far = own.filter(({ rest }) => Math.abs(rest) > sds * spread);
    return far.length > mostWild * own.length ? [] : far.map(({ i }) => i);
  });
  return new Set(wild);
}

function described(
  kept: NonNullable<ReturnType<typeof timekeepers>>,
  fitted: FittedVariances,
  solved: SolvedCourse,
  strokes: KeptStrokes,
): Omit<Course, 'swingInStep'> {
  const { data, of, lineMs } = kept;
  const { keeper, knot, x } = data;
  const reference = [...keeper.keys()].filter((i) => keeper[i] === 0);
  const referenceAt = reference.map((i) => x[knot[i]]);
  const zeroMs =
    reference.reduce((sum, i) => sum + data.y[i] - solved.courseAt(x[knot[i]]), 0) / reference.length;
  const [first, last] = [referenceAt[0], referenceAt[referenceAt.length - 1]];
  const span = last - first;
  const errors = errorsOf(strokes, kept, fitted, solved, reference);
  const pace = errors.of([first, last], [-1 / span, 1 / span], []);
  const paceMs = (solved.courseAt(last) - solved.courseAt(first)) / span + lineMs(1) - lineMs(0);
  return {
    used: of,
    referenceHits: Int32Array.from(reference, (i) => strokes.hit[of[i]]),
    timeAt: (position) => (lineMs(position) + solved.courseAt(position) + zeroMs) / 1000,
    errors,
    secondsPerStep: paceMs / 1000,
    secondsPerStepCi95:
      (studentTQuantile(0.975, pace.degreesOfFreedom) * Math.sqrt(pace.rotation + pace.referencePins)) / 1000,
    sectors: sectorSteps(kept, fitted, solved),
  };
}

/**
 * What a contrast of lateness is off, Σ amounts·(lateness less its pin's truth): exact for the weights with which the
 * strokes make it, the fit being linear; the variances of the components go in as they were fitted.
 */
function errorsOf(
  { hit }: KeptStrokes,
  { data, of, channels }: NonNullable<ReturnType<typeof timekeepers>>,
  { values, logCovariance, variances }: FittedVariances,
  solved: SolvedCourse,
  reference: readonly number[],
): CourseErrors {
  const { x, knot, keeper, keepers, pin, pinKeeper } = data;
  const n = keeper.length;
  const at = new Map(Array.from(of, (stroke, i) => [hit[stroke], i]));
  const chance: (Chance | null)[] = channels.map((k) =>
    k < 0
      ? null
      : { variance: variances.chance[k], degreesOfFreedom: 2 / Math.max(1e-6, logCovariance[1 + k][1 + k]) },
  );
  const errorOf = (positions: ArrayLike<number>, amounts: ArrayLike<number>, own: ArrayLike<number>) => {
    let total = 0;
    for (let k = 0; k < amounts.length; k++) total += amounts[k];
    const zero = -total / reference.length;
    const withZero = Math.abs(total) > 1e-12;
    const points = Float64Array.of(
      ...Array.from(positions),
      ...(withZero ? reference.map((i) => x[knot[i]]) : []),
    );
    const asked = Float64Array.of(...Array.from(amounts), ...(withZero ? reference.map(() => zero) : []));
    const weights = solved.weights(points, asked);
    if (withZero) for (const i of reference) weights[i] -= zero;
    const onStrokes = weights.map((weight) => -weight);
    const onPins = new Float64Array(pinKeeper.length);
    for (let i = 0; i < n; i++) {
      if (pin[i] < 0) continue;
      onPins[pin[i]] -= weights[i];
      if (withZero && keeper[i] === 0) onPins[pin[i]] -= zero;
    }
    const isOwn = new Uint8Array(n);
    for (let k = 0; k < own.length; k++) {
      const i = at.get(own[k]);
      if (i === undefined) continue;
      onStrokes[i] += amounts[k];
      isOwn[i] = 1;
    }
    const coefficients = new Float64Array(values.length);
    coefficients[0] = wanderSeen(x, knot, weights, positions, amounts);
    let ofOwn = 0;
    for (let i = 0; i < n; i++) {
      const square = onStrokes[i] ** 2;
      coefficients[1 + keeper[i]] += square;
      if (isOwn[i]) ofOwn += square * variances.chance[keeper[i]];
    }
    onPins.forEach((value, p) => (coefficients[1 + keepers + pinKeeper[p]] += value ** 2));
    const parts = coefficients.map((value, k) => value * values[k]);
    const all = parts.reduce((sum, value) => sum + value, 0);
    const referencePins = parts[1 + keepers];
    // Giesbrecht & Burns 1985 (Biometrics 41:477): the variance of the variance by its components’ covariance.
    let unsure = 0;
    parts.forEach((a, k) => parts.forEach((b, l) => (unsure += a * b * logCovariance[k][l])));
    return {
      chance: ofOwn,
      rotation: Math.max(0, all - ofOwn - referencePins),
      referencePins,
      degreesOfFreedom: unsure > 0 ? Math.max(leastFreedom, (2 * all ** 2) / unsure) : Infinity,
    };
  };
  return { chance, of: errorOf };
}

function sectorSteps(
  { data, sectors }: NonNullable<ReturnType<typeof timekeepers>>,
  { logCovariance }: FittedVariances,
  solved: SolvedCourse,
) {
  if (sectors.length < 2) return [];
  const degreesOfFreedom = Math.max(leastFreedom, 2 / Math.max(1e-6, logCovariance[1][1]));
  return sectors.map((sector, s) => {
    // Steps that sum to zero: the first sector's is the others' sum turned over.
    const pick = new Float64Array(solved.effects.length);
    for (let j = 0; j < sectors.length - 1; j++) pick[data.groups + j] = s === 0 ? -1 : s - 1 === j ? 1 : 0;
    return {
      sector,
      stepMs: pick.reduce((sum, amount, j) => sum + amount * solved.effects[j], 0),
      ci95Ms: studentTQuantile(0.975, degreesOfFreedom) * Math.sqrt(solved.effectCovariance(pick)),
    };
  });
}
