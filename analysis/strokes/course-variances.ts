/**
 * The variances of a take's times, from the times themselves: restricted maximum likelihood over the course's wander and
 * each keeper's chance and pins together (Patterson & Thompson 1971, Biometrika 58:545), by Fisher scoring of their
 * logarithms. Traces are means over probes (Hutchinson 1990, Communications in Statistics 19:433), drawn once, so that
 * the same take gives the same numbers.
 *
 * A variance that few strokes tell is kept off zero as Chung et al. 2013 (Psychometrika 78:685) do, by half a logarithm:
 * at zero an interval would take for certain what is only not seen.
 */
import { inverse, Matrix } from 'ml-matrix';
import { solveCourse, type CourseData, type Projected, type Variances } from './course-model.ts';

export interface FittedVariances {
  readonly variances: Variances;
  /** The components in one list: wander, chance by keeper, pins by keeper. */
  readonly values: Float64Array;
  /** Covariance of the logarithms of those values, row by row; 0 where one plays no part. */
  readonly logCovariance: readonly Float64Array[];
}

const scorings = 10;
/**
 * Scoring ends once no logarithm of a variance changes by more than this in a step: far less than the error with which strokes
 * tell a variance.
 */
const settled = 0.1;
/** A logarithm moves no further than this in a step. */
const longestStep = 2;
/** Prior of a variance: within a factor of e^±2·2 of its start. Weak; what strokes tell outweighs it soon. */
const priorSd = 2;
/** Drawn so often for each component; the fewer strokes, the more. */
const probesFor = (strokes: number) => Math.min(16, Math.max(2, Math.ceil(1200 / strokes)));
/** Tried chances, of the first guess; tried wanders, decades from that which bends the course between neighbours by as much as chance. */
const chanceShares = [1, 0.3, 0.1];
const decades = [-11, -9, -7, -5, -3, -1, 1];

/**
 * @param least floor of each keeper's chance: better than that nobody hears, ms²
 * @param near  a fit of nearly the same strokes, to begin from
 */
export function fitVariances(
  data: CourseData,
  start: Variances,
  least: Float64Array,
  near?: Variances,
): FittedVariances {
  const { keepers, ownPins } = data;
  const live = [true, ...ownPins.map(() => true), ...ownPins];
  const begun = near ?? likeliestStart(data, start);
  // What played no part in the near fit is 0 there.
  const first = listOf(start);
  const prior = listOf(begun).map((value, k) => Math.log(value > 0 ? value : first[k]));
  const log = Float64Array.from(prior);
  const floors = [-Infinity, ...Array.from(least, (value) => Math.log(value))];
  const probes = probesOf(data, live);
  let information = Matrix.zeros(log.length, log.length);
  for (let round = 0; round < scorings; round++) {
    const variances = ofList(log.map(Math.exp), keepers);
    const { score, info } = scoring(data, variances, probes, live);
    log.forEach((value, k) => {
      info.set(k, k, info.get(k, k) + 1 / priorSd ** 2);
      score[k] += (prior[k] - value) / priorSd ** 2;
      if (live[k] && (k === 0 || k > keepers)) score[k] += 0.5;
    });
    information = info;
    const step = inverse(info).mmul(Matrix.columnVector(score)).to1DArray();
    let largest = 0;
    log.forEach((value, k) => {
      if (!live[k]) return;
      const to = value + Math.max(-longestStep, Math.min(longestStep, step[k]));
      log[k] = Math.max(to, floors[k] ?? -Infinity);
      largest = Math.max(largest, Math.abs(log[k] - value));
    });
    if (largest < settled) break;
  }
  const values = log.map((value, k) => (live[k] ? Math.exp(value) : 0));
  const covariance = inverse(information);
  return {
    variances: ofList(values, keepers),
    values,
    logCovariance: live.map((one, k) =>
      Float64Array.from(live, (other, l) => (one && other ? covariance.get(k, l) : 0)),
    ),
  };
}

function listOf({ wander, chance, pins }: Variances): Float64Array {
  return Float64Array.of(wander, ...chance, ...pins);
}

function ofList(values: Float64Array, keepers: number): Variances {
  return {
    wander: values[0],
    chance: values.slice(1, 1 + keepers),
    pins: values.slice(1 + keepers),
  };
}

/**
 * The likeliest of a few: the first guess of chance was made against a course through the reference alone, and has in it
 * what that course missed. So smaller ones are tried too, each with every wander: the likelihood may have several peaks.
 */
function likeliestStart(data: CourseData, start: Variances): Variances {
  const { x } = data;
  // Pins' constants are taken for chance here: a start need not be good, and without them it is found in no time.
  const plain = { ...data, pin: data.pin.map(() => -1), pinKeeper: new Int32Array(0) };
  let best = { wander: 0, share: 1, deviance: Infinity };
  for (const share of chanceShares) {
    const chance = start.chance.map((value, k) => share * (value + (data.ownPins[k] ? start.pins[k] : 0)));
    const unit = chance[0] * ((x[x.length - 1] - x[0]) / (x.length - 1)) ** -3;
    for (const decade of decades) {
      const wander = unit * 10 ** decade;
      const { deviance } = solveCourse(plain, { wander, chance, pins: start.pins });
      if (deviance < best.deviance) best = { wander, share, deviance };
    }
  }
  const { wander, share } = best;
  return {
    wander,
    chance: start.chance.map((value) => share * value),
    pins: start.pins.map((value) => share * value),
  };
}

/** Draws of variance 1 of each component, as what they make of the strokes. */
function probesOf(data: CourseData, live: readonly boolean[]): Float64Array[][] {
  const { y, x, keeper, keepers, pin, pinKeeper, knot } = data;
  const random = noise();
  const sign = () => (random() < 0.5 ? -1 : 1);
  const count = probesFor(y.length);
  return live.map((one, k) =>
    !one
      ? []
      : Array.from({ length: count }, () => {
          if (k === 0) {
            const path = wanderingPath(x, random);
            return Float64Array.from(knot, (at) => path[at]);
          }
          if (k <= keepers) return Float64Array.from(keeper, (own) => (own === k - 1 ? sign() : 0));
          const ofPins = Float64Array.from(pinKeeper, (own) => (own === k - 1 - keepers ? sign() : 0));
          return Float64Array.from(pin, (p) => (p < 0 ? 0 : ofPins[p]));
        }),
  );
}

/** An integrated random walk with steps of variance 1 a step of x. */
function wanderingPath(x: Float64Array, random: () => number): Float64Array {
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const out = new Float64Array(x.length);
  let slope = 0;
  for (let i = 1; i < x.length; i++) {
    const h = x[i] - x[i - 1];
    const change = Math.sqrt(h) * normal();
    out[i] = out[i - 1] + h * (slope + change / 2) + Math.sqrt(h ** 3 / 12) * normal();
    slope += change;
  }
  return out;
}

/** Numerical Recipes' 32-bit congruential generator: enough for signs. */
function noise(): () => number {
  let state = 12345;
  return () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
}

/** Slope of the log likelihood and its information, both by the components' logarithms. */
function scoring(
  data: CourseData,
  variances: Variances,
  probes: readonly (readonly Float64Array[])[],
  live: readonly boolean[],
) {
  const { project, left } = solveCourse(data, variances);
  const values = listOf(variances);
  const squares = squaresOf(data, left);
  const info = Matrix.zeros(live.length, live.length);
  const score = squares.map((square, k) => (live[k] ? 0.5 * values[k] * square : 0));
  probes.forEach((own, k) => {
    for (const probe of own) {
      const projected = project(probe);
      let along = 0;
      for (let i = 0; i < probe.length; i++) along += probe[i] * projected.strokes[i];
      score[k] -= (0.5 * values[k] * along) / own.length;
      squaresOf(data, projected).forEach((square, l) => {
        if (!live[l]) return;
        const part = (0.25 * values[k] * values[l] * square) / own.length;
        info.set(k, l, info.get(k, l) + part);
        info.set(l, k, info.get(l, k) + part);
      });
    }
  });
  return { score, info };
}

/** rᵀV_k r of each component k of unit variance, r = P·z. */
function squaresOf({ x, keeper, keepers, pin, pinKeeper }: CourseData, { strokes, inner }: Projected) {
  const out = new Float64Array(1 + 2 * keepers);
  for (let i = 0; i < inner.length; i++) {
    const [before, after] = [x[i + 1] - x[i], x[i + 2] - x[i + 1]];
    const next = i + 1 < inner.length ? inner[i + 1] : 0;
    out[0] += inner[i] * ((inner[i] * (before + after)) / 3 + (next * after) / 3);
  }
  const sums = new Float64Array(pinKeeper.length);
  for (let i = 0; i < strokes.length; i++) {
    out[1 + keeper[i]] += strokes[i] ** 2;
    if (pin[i] >= 0) sums[pin[i]] += strokes[i];
  }
  sums.forEach((sum, p) => (out[1 + keepers + pinKeeper[p]] += sum ** 2));
  return out;
}
