/** The smooth rotation: a curve through the reference's strokes that follows the drive and not the reference's own chance. */
import { anova, ci95, studentTQuantile } from '../numbers/inference.ts';
import { median, robustSd } from '../numbers/statistics.ts';
import { evaluate } from '../numbers/spline.ts';
import { dot, likelihoodOfShares, solveModel, type DriftModel, type SolvedModel } from './drift-model.ts';

/** The reference's strokes, ascending in position, no two alike. */
export interface ReferenceStrokes {
  /** Unwrapped, steps */
  readonly position: Float64Array;
  readonly timeS: Float64Array;
  /** Step of each stroke's pin. */
  readonly step: Int32Array;
  /** Sector of each stroke; −1 throughout where the reference is not on the barrel. */
  readonly sector: Int32Array;
  /** Standard deviation of a time from hearing alone, s. */
  readonly hearingSdS: number;
  /** Positions in a turn of the barrel. */
  readonly stepsPerTurn: number;
}

export interface SmoothRotation {
  /** Which of the strokes it was fitted to; the others lie too far off to be chance. */
  readonly used: Int32Array;
  readonly timeAt: (position: number) => number;
  /** Weights of the used strokes in the mean of `timeAt` over positions: exact, the fit being linear. */
  readonly weights: (positions: ArrayLike<number>) => Float64Array;
  /**
   * Variance of that mean, s², as far as the reference makes it: its chance, its pins' own constants, and speed changes
   * between its strokes. For one of the reference's own groups `own` are its strokes (indices into `used`).
   */
  readonly varianceS2: (positions: ArrayLike<number>, own?: ArrayLike<number>) => number;
  /** The same for a single position, on average. */
  readonly pointVarianceS2: number;
  /** Spread of a reference stroke about the curve by chance, s. */
  readonly noiseSdS: number;
  readonly degreesOfFreedom: number;
  readonly secondsPerStep: number;
  readonly secondsPerStepCi95: number;
  readonly sectors: readonly { readonly sector: number; readonly stepMs: number; readonly ci95Ms: number }[];
}

/** Without a third stroke there is a line, and nothing to tell chance from. */
export const leastStrokes = 3;
/** Chance passes six standard deviations once in 5·10⁸ strokes. */
const wildSds = 6;
const mostSweeps = 4;
/** Below so many strokes a spread says too little to call one of them wild. */
const leastToJudge = 8;
/** Pins' constants are taken for real where chance alone makes them so seldom. */
const realPins = 0.01;
/** Tried variances of the pins' constants, over chance's. */
const pinShares = [0, 0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.4, 2, 3, 5, 10, 30, 100];
/** More pins than this are not told apart: their constants average out, and a matrix of their number would not fit. */
const mostPins = 400;
const leastForMiddle = 4;
/** A clock's tick: no recording is exact beyond it. */
const leastSdS = 1e-6;
/** Between two strokes the drive stood where the time is so much longer than in the stretches around. */
const standRatio = 1.3;
const stretch = 4;

/** @param careful looks for constants of the reference's own pins too, which takes longer */
export function fitRotation(strokes: ReferenceStrokes, careful: boolean): SmoothRotation | null {
  let used = Int32Array.from(strokes.position.keys());
  for (let sweep = 0; ; sweep++) {
    if (used.length < leastStrokes) return null;
    const fit = fitUsed(strokes, used, careful);
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
  careful: boolean,
): { rotation: SmoothRotation; rests: Float64Array } {
  const x = Float64Array.from(used, (i) => strokes.position[i]);
  const y = Float64Array.from(used, (i) => strokes.timeS[i]);
  const steps = [...new Set(Array.from(used, (i) => strokes.step[i]))];
  const numberOf = new Map(steps.map((step, k) => [step, k]));
  const pin = Int32Array.from(used, (i) => numberOf.get(strokes.step[i])!);
  const sectorOf = Int32Array.from(used, (i) => strokes.sector[i]);
  const sectors = [...new Set(sectorOf)].filter((sector) => sector >= 0).sort((a, b) => a - b);
  // Steps that sum to zero: the first sector's is the others' sum turned over.
  const columns = sectors
    .slice(1)
    .map((sector) => Float64Array.from(sectorOf, (s) => (s === sector ? 1 : 0) - (s === sectors[0] ? 1 : 0)));
  const enough = x.length - 2 - columns.length >= 1;
  const base = { x, pin, pins: steps.length, columns: enough ? columns : [], loose: stands(x, y) };
  const leastVariance = Math.max(strokes.hearingSdS, leastSdS) ** 2;

  const alone = likeliestWander(base, y, leastVariance);
  let model: DriftModel = { ...base, wander: alone, pinShare: 0 };
  let solved = solveModel(model, y);
  let rests = restsOf(model, solved, y);
  if (careful && pinsDiffer(model, rests)) {
    const swinging = sectors.length === 0 ? { ...base, ...swingsOf(strokes.stepsPerTurn, base) } : base;
    model = { ...swinging, ...likeliestPair(swinging, y, leastVariance, alone) };
    solved = solveModel(model, y);
    rests = restsOf(model, solved, y);
  }
  return {
    rotation: describe(model, solved, y, used, sectors, leastVariance),
    rests: chanceOf(model, rests),
  };
}

/** So many times a turn a drive is let swing in step with the barrel; each time takes two unknowns from at least so many pins. */
const mostSwings = 4;
const pinsPerSwing = 8;

/**
 * What swings in step with the turn is there every turn, as a pin's own constant is; but pins lie off one by one, and a
 * drive swings smoothly. Without these the likelihood may give a chain's swing to the pins, since it has to pay for
 * each turn of a swing anew and for a pin's constant only once.
 */
function swingsOf(stepsPerTurn: number, { x, pins }: Pick<DriftModel, 'x' | 'pins'>) {
  const count =
    x[x.length - 1] - x[0] < 1.5 * stepsPerTurn ? 0 : Math.min(mostSwings, Math.floor(pins / pinsPerSwing));
  const swings = Array.from({ length: 2 * count }, (_, j) => {
    const rate = (2 * Math.PI * (1 + (j >> 1))) / stepsPerTurn;
    return (position: number) => (j % 2 ? Math.sin(rate * position) : Math.cos(rate * position));
  });
  return { swings, columns: swings.map((swing) => x.map(swing)) };
}

/** What the swings add at a position, s. */
function swung(
  { swings = [], columns }: DriftModel,
  { coefficients }: SolvedModel,
  position: number,
): number {
  return swings.reduce(
    (sum, swing, j) => sum + coefficients[columns.length - swings.length + j] * swing(position),
    0,
  );
}

/** What is left of each stroke besides the curve and its sector's step: its pin's constant and chance. */
function restsOf(model: DriftModel, { values, coefficients }: SolvedModel, y: Float64Array): Float64Array {
  return y.map(
    (time, i) =>
      time - values[i] - model.columns.reduce((sum, column, j) => sum + coefficients[j] * column[i], 0),
  );
}

function chanceOf({ pin, pins, pinShare }: DriftModel, rests: Float64Array): Float64Array {
  const lists = Array.from({ length: pins }, () => [] as number[]);
  rests.forEach((rest, i) => lists[pin[i]].push(rest));
  // Taken off single strokes and pairs, a middle would leave them no chance at all.
  if (pinShare === 0 || lists.some((list) => list.length < leastForMiddle)) return rests;
  const middles = lists.map(median);
  return rests.map((rest, i) => rest - middles[pin[i]]);
}

/** Whether the reference's own pins lie off their places, the same way every turn, by more than chance. */
function pinsDiffer({ pin, pins }: DriftModel, rests: Float64Array): boolean {
  if (pins > mostPins) return false;
  const byPin = Array.from({ length: pins }, () => [] as number[]);
  rests.forEach((rest, i) => byPin[pin[i]].push(rest));
  const lines = anova(byPin);
  return lines.within.degreesOfFreedom >= leastToJudge && lines.p < realPins;
}

/**
 * Wander and the pins' share together. A barrel that swings once a turn and pins that lie off their places look alike
 * in part; the likelihood weighs that the one is smooth and the other is not.
 */
function likeliestPair(
  base: Omit<DriftModel, 'wander' | 'pinShare'>,
  y: Float64Array,
  leastVariance: number,
  alone: number,
): { wander: number; pinShare: number } {
  const unit = ((base.x[base.x.length - 1] - base.x[0]) / (base.x.length - 1)) ** -3;
  const centre = alone > 0 ? Math.log10(alone / unit) : -8;
  let best = { wander: alone, pinShare: 0, likelihood: -Infinity };
  const look = (decade: number) => {
    const wander = unit * 10 ** decade;
    const likelihoodOf = likelihoodOfShares({ ...base, wander }, y, leastVariance);
    for (const pinShare of pinShares) {
      const likelihood = likelihoodOf(pinShare);
      if (likelihood > best.likelihood) best = { wander, pinShare, likelihood };
    }
  };
  for (let decade = centre - 5; decade <= centre + 5; decade++) look(decade);
  const near = Math.log10(best.wander / unit);
  for (const aside of [-0.5, 0.5]) look(near + aside);
  return best;
}

const decades = Array.from({ length: 19 }, (_, i) => i - 17);
/** The wander that makes the strokes likeliest, over ε's variance: restricted maximum likelihood, as in numbers/spline.ts. */
function likeliestWander(
  base: Omit<DriftModel, 'wander' | 'pinShare'>,
  y: Float64Array,
  leastVariance: number,
): number {
  const { x } = base;
  if (x.length - 2 - base.columns.length < 2) return 0;
  const likelihood = (wander: number) => {
    const { squares, freedom, logDeterminant } = solveModel({ ...base, wander, pinShare: 0 }, y);
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

function describe(
  model: DriftModel,
  solved: SolvedModel,
  y: Float64Array,
  used: Int32Array,
  sectors: readonly number[],
  leastVariance: number,
): SmoothRotation {
  const { x, pin, pins, wander, pinShare } = model;
  const n = x.length;
  const variance = Math.max(solved.squares / Math.max(1, solved.freedom), leastVariance);
  const even = new Float64Array(n).fill(1 / n);
  // Zero is the reference's own mean: what its strokes lie off the curve on average is put on the curve.
  const curve = solved.values.map((value, i) => value + swung(model, solved, x[i]));
  const zeroS = dot(even, y) - dot(even, curve);
  const ofZero = solved.weights(x, even).map((weight) => 1 / n - weight);
  const weights = (positions: ArrayLike<number>) => {
    const share = new Float64Array(positions.length).fill(1 / positions.length);
    const out = solved.weights(positions, share);
    return out.map((weight, i) => weight + ofZero[i]);
  };
  const varianceOf = (positions: ArrayLike<number>, w: Float64Array, own?: ArrayLike<number>) => {
    const chance = Float64Array.from(w, (weight) => -weight);
    if (own) for (let k = 0; k < own.length; k++) chance[own[k]] += 1 / own.length;
    const onPins = new Float64Array(pins);
    for (let i = 0; i < n; i++) onPins[pin[i]] += w[i] - 1 / n;
    // What is asked is L·t less the mean of t over the strokes, seen through weights less 1/n.
    const unseen = unfollowed(x, w, positions);
    return variance * (dot(chance, chance) + pinShare * dot(onPins, onPins) + wander * unseen);
  };
  const probes = Array.from({ length: Math.min(12, n) }, (_, k, count = Math.min(12, n)) =>
    Math.round((k * (n - 1)) / Math.max(1, count - 1)),
  );
  const ofProbes = probes.map((i) => ({ i, w: weights([x[i]]) }));
  const leverage = ofProbes.reduce((sum, { i, w }) => sum + w[i], 0) / probes.length;
  const degreesOfFreedom = Math.max(1, n * (1 - leverage) - model.columns.length);
  const span = x[n - 1] - x[0];
  const ends = solved.weights([x[0], x[n - 1]], [-1 / span, 1 / span]);
  const quantile = studentTQuantile(0.975, degreesOfFreedom);
  return {
    used,
    timeAt: (position) =>
      evaluate(x, solved.values, solved.bends, position) + swung(model, solved, position) + zeroS,
    weights,
    varianceS2: (positions, own) => varianceOf(positions, weights(positions), own),
    pointVarianceS2: ofProbes.reduce((sum, { i, w }) => sum + varianceOf([x[i]], w), 0) / probes.length,
    noiseSdS: Math.sqrt(variance),
    degreesOfFreedom,
    secondsPerStep: (curve[n - 1] - curve[0]) / span,
    secondsPerStepCi95: solved.freedom > 0 ? quantile * Math.sqrt(variance * dot(ends, ends)) : NaN,
    sectors: sectorSteps(model, solved, variance, sectors, degreesOfFreedom),
  };
}

/**
 * ∫g², g(u) = Σ(p − u)₊/k − Σw·(x − u)₊: the variance that a unit of wander leaves in a mean over the positions when it
 * is estimated by these weights, which annihilate lines.
 */
function unfollowed(x: Float64Array, w: Float64Array, positions: ArrayLike<number>): number {
  const points = Float64Array.from(positions).sort();
  let [i, k] = [x.length - 1, points.length - 1];
  let [slope, level] = [0, 0];
  let total = 0;
  let u = Infinity;
  let g = 0;
  while (i >= 0 || k >= 0) {
    const fromX = k < 0 || (i >= 0 && x[i] >= points[k]);
    const next = fromX ? x[i] : points[k];
    if (u < Infinity) {
      const there = level - slope * next;
      total += ((u - next) * (g * g + g * there + there * there)) / 3;
    }
    const amount = fromX ? -w[i--] : 1 / points.length;
    if (!fromX) k--;
    slope += amount;
    level += amount * next;
    u = next;
    g = level - slope * u;
  }
  return total;
}

function sectorSteps(
  { columns }: DriftModel,
  { coefficients, covariance }: SolvedModel,
  variance: number,
  sectors: readonly number[],
  degreesOfFreedom: number,
) {
  if (sectors.length < 2 || columns.length === 0) return [];
  const count = columns.length;
  return sectors.map((sector, s) => {
    const pick = Float64Array.from({ length: count }, (_, j) => (s === 0 ? -1 : s - 1 === j ? 1 : 0));
    let spread = 0;
    for (let i = 0; i < count; i++)
      for (let j = 0; j < count; j++) spread += pick[i] * pick[j] * covariance[i * count + j];
    return {
      sector,
      stepMs: 1000 * dot(pick, coefficients),
      ci95Ms: 1000 * ci95(Math.sqrt(variance * spread), degreesOfFreedom),
    };
  });
}
