/**
 * Whether the drive swings at one steady rate: a governor that hunts, a shaft that is out. A random walk follows such a
 * swing but takes each of its turns for a new chance, while it comes to the reference's strokes in step where these are
 * about as far apart; so a swing that stands out is given its own place in the course.
 */
import { median } from '../numbers/statistics.ts';
import { dot } from '../numbers/dot.ts';
import type { CourseData, SolvedCourse } from './course-model.ts';

/** Chance of one false swing in a take. */
const falseAlarm = 1e-3;
/** A swing must come round so often in the take before it is one. */
const leastRounds = 4;
/** Rates looked at between two that could be told apart. */
const oversampling = 2;
const mostRates = 240;
/** Rates at which it is worked out how much of a wave there is to see, and rates looked at closely. */
const anchors = 8;
const looked = 3;
/** A rate is told to this part of the distance between rates tried. */
const fineness = 40;
/** Half turns by which strokes must slip against a swing during the take to meet it everywhere. */
const mostSlip = 2;
/** Strokes needed for one turn of the fastest swing. */
const strokesPerTurn = 3;

/**
 * The rate, radians a step, at which a sine and cosine explain most of what is left, by its score (Rao 1948, Proceedings
 * of the Cambridge Philosophical Society 44:50: the drop of −2 log likelihood, to first order χ² of two degrees); null
 * where none stands out.
 */
export function standingSwing(data: CourseData, { project, left }: SolvedCourse): number | null {
  const { x, knot } = data;
  const span = x[x.length - 1] - x[0];
  const lowest = (2 * Math.PI * leastRounds) / span;
  const highest = (2 * Math.PI * x.length) / (strokesPerTurn * span);
  const count = Math.min(mostRates, Math.ceil(((highest - lowest) * span * oversampling) / (2 * Math.PI)));
  if (!(count > 1)) return null;
  const rates = Float64Array.from(
    { length: count },
    (_, r) => lowest + ((highest - lowest) * r) / (count - 1),
  );
  const wavesOf = (rate: number) =>
    [Math.cos, Math.sin].map((f) => Float64Array.from(knot, (k) => f(rate * x[k])));
  // How much of a wave there is to see changes slowly with its rate: worked out at a few, it finds those to look at.
  const places = Array.from({ length: anchors }, (_, k) => Math.round((k * (count - 1)) / (anchors - 1)));
  const visible = places.map(
    (r) => wavesOf(rates[r]).reduce((sum, wave) => sum + dot(wave, project(wave).strokes), 0) / 2,
  );
  const pull = new Float64Array(x.length);
  for (let i = 0; i < knot.length; i++) pull[knot[i]] += left.strokes[i];
  const roughly = rates.map((rate, r) => {
    let [even, odd] = [0, 0];
    for (let k = 0; k < x.length; k++) {
      even += pull[k] * Math.cos(rate * x[k]);
      odd += pull[k] * Math.sin(rate * x[k]);
    }
    const at = (r * (anchors - 1)) / (count - 1);
    const k = Math.min(anchors - 2, Math.floor(at));
    return (even ** 2 + odd ** 2) / (visible[k] * (k + 1 - at) + visible[k + 1] * (at - k));
  });
  const likely = [...roughly.keys()].sort((p, q) => roughly[q] - roughly[p]).slice(0, looked);
  let best = { rate: 0, score: 2 * Math.log(count / falseAlarm) };
  for (const r of likely) {
    const score = scoreOf(wavesOf(rates[r]), { project, left });
    if (score > best.score) best = { rate: rates[r], score };
  }
  if (best.rate === 0) return null;
  // Between the rates tried: half a turn too many in the take would leave most of the swing where it was.
  for (let step = (rates[1] - rates[0]) / 2; step > (rates[1] - rates[0]) / fineness; step /= 2)
    for (const rate of [best.rate - step, best.rate + step]) {
      const score = scoreOf(wavesOf(rate), { project, left });
      if (score > best.score) best = { rate, score };
    }
  return best.rate;
}

/**
 * Whether strokes come so near to every half turn of a swing, or every few, that over the take they meet it at the same
 * place: then what the swing moves them by cannot be told from what they are late.
 *
 * @param rate      radians a step
 * @param positions ascending, steps
 */
export function inStepWith(rate: number, positions: readonly number[]): boolean {
  if (positions.length < 3) return false;
  const apart = median(positions.slice(1).map((position, i) => position - positions[i]));
  const halfTurns = (rate * apart) / Math.PI;
  const slip = Math.abs(halfTurns - Math.round(halfTurns));
  const strokes = (positions[positions.length - 1] - positions[0]) / apart;
  return Math.round(halfTurns) >= 1 && slip * strokes < mostSlip;
}

function scoreOf(waves: readonly Float64Array[], { project, left }: Pick<SolvedCourse, 'project' | 'left'>) {
  const seen = waves.map((wave) => project(wave).strokes);
  const [a, b] = waves.map((wave) => dot(wave, left.strokes));
  const [aa, ab, bb] = [dot(waves[0], seen[0]), dot(waves[0], seen[1]), dot(waves[1], seen[1])];
  const determinant = aa * bb - ab * ab;
  return determinant > 1e-6 * aa * bb ? (a * a * bb - 2 * a * b * ab + b * b * aa) / determinant : 0;
}
