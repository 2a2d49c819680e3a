/**
 * A swing of the drive that divides the turn exactly: a chain of so many links, a gear that turns a whole number of times.
 * It is the same in every turn, as a pin's own constant is, so the reference's pins may be taken for its cause, and where
 * these are few or always meet it at the same place they do not see it at all. But it moves the pins of all channels
 * alike and smoothly, where pins lie off one by one: their means on a sine and cosine of each whole number of swings a
 * turn, by least squares, every group's own mean taken off.
 */
import fCdf from '@stdlib/stats-base-dists-f-cdf';
import { grouped } from '../numbers/grouped.ts';
import { dot } from '../numbers/dot.ts';
import { mean, median, robustSd, sum, sumOfSquares } from '../numbers/statistics.ts';
import { inStepWith } from './periods.ts';
import { coarseStepMs } from './resolution.ts';
import type { KeptStrokes } from './timekeepers.ts';

/** Chance of one false swing in a take, and of one that the reference always meets at the same place: nothing else would show that. */
const falseAlarm = 1e-3;
const falseAlarmInStep = 1e-2;
/** A shorter swing, steps: pins, which stand on whole steps, would meet it too seldom to tell it from their own errors. */
const leastSteps = 4;
/** Slower swings are the random walk's to follow, and a run of pins that lie off would pass for one. */
const leastRounds = 4;
/** χ² of two degrees that chance passes once in 1000: beyond, two sets of pins do not swing alike. */
const contradicts = 13.8;
/** Degrees of freedom below which no spread of pins is known. */
const leastFreedom = 6;

/**
 * A pin farther than this from its group's median, in standard deviations, is off by itself and left out of the fit: a pure
 * sinusoid's largest value is 1.4 of its standard deviations.
 */
const mostSds = 3.5;

interface PinMean {
  readonly at: number;
  readonly ms: number;
  /** One over the variance of a pin's mean in its channel. */
  readonly weight: number;
}

/**
 * The rate, radians a step, of the whole number of swings a turn that explains most of how the pins of all channels but the
 * reference differ within their groups; null where none stands out. A swing that the reference's pins could show and do not
 * is no drive's: the barrel's holes are divided so. Nor is one that only half the turn shows: a run of pins lies off there.
 *
 * @param lateMs of each stroke, against the course as it is told so far
 * @param used   strokes that are not wild
 * @param known  rates that the course has already
 */
export function lockedSwing(
  strokes: KeptStrokes,
  used: Int32Array,
  lateMs: (stroke: number) => number,
  known: readonly number[],
): number | null {
  const { channel, reference, stepsPerTurn, position } = strokes;
  const ofReference = used.filter((i) => channel[i] === reference);
  const own = groupsOf(strokes, ofReference, lateMs);
  const others = groupsOf(
    strokes,
    used.filter((i) => channel[i] !== reference),
    lateMs,
  );
  const freedom = others.flat().length - others.length - 2;
  // Rounding moves pins of all channels in a pattern of its own, alike in every turn; it is told as what it is.
  if (freedom < leastFreedom || strokes.timesStepMs > coarseStepMs) return null;
  const halves = [false, true].map((late) =>
    others.map((group) => group.filter(({ at }) => at >= stepsPerTurn / 2 === late)),
  );
  const at = Array.from(ofReference, (i) => position[i]);
  const rates = Array.from(
    { length: Math.max(0, Math.floor(stepsPerTurn / leastSteps) + 1 - leastRounds) },
    (_, k) => (2 * Math.PI * (k + leastRounds)) / stepsPerTurn,
  ).filter((rate) => known.every((one) => Math.abs(one - rate) > Math.PI / stepsPerTurn));
  const inStep = rates.map((rate) => inStepWith(rate, at));
  // The same change of speed moves the barrel the farther the longer it lasts: slow swings are looked for more closely.
  const share = (rate: number) => 1 / rate / sum(rates.filter((_, k) => inStep[k]).map((one) => 1 / one));
  let best: { rate: number; times: number } | null = null;
  for (const [k, rate] of rates.entries()) {
    const seen = swingOf(others, rate);
    if (seen === null) continue;
    const p = 1 - fCdf(seen.explained / 2 / ((seen.whole - seen.explained) / freedom), 2, freedom);
    const alarm = Math.max(falseAlarm / rates.length, inStep[k] ? falseAlarmInStep * share(rate) : 0);
    const times = alarm / p;
    if (!(times > (best?.times ?? 1))) continue;
    const [first, second] = halves.map((half) => swingOf(half, rate));
    const alike = apart(seen, swingOf(own, rate)) <= contradicts && apart(first, second) <= contradicts;
    if (alike) best = { rate, times };
  }
  return best?.rate ?? null;
}

/** Pins with their means, by channel and sector. */
function groupsOf(
  { channel, sector, step }: KeptStrokes,
  strokes: Int32Array,
  lateMs: (stroke: number) => number,
): PinMean[][] {
  return [...grouped([...strokes], (i) => channel[i]).values()].flatMap((own) => {
    const all = [...grouped(own, (i) => sector[i]).values()].map((list) => {
      const pins = [...grouped(list, (i) => step[i])].map(([at, hits]) => ({
        at,
        ms: mean(hits.map(lateMs)),
      }));
      const middle = median(pins.map(({ ms }) => ms));
      return pins.map((pin) => ({ ...pin, ms: pin.ms - middle }));
    });
    const most = mostSds * robustSd(all.flat().map(({ ms }) => ms));
    const means = all.map((pins) => pins.filter(({ ms }) => Math.abs(ms) <= most));
    const freedom = sum(means.map((group) => Math.max(0, group.length - 1)));
    const variance =
      sum(means.filter((group) => group.length > 0).map((group) => sumOfSquares(group.map(({ ms }) => ms)))) /
      freedom;
    return variance > 0 ? means.map((group) => group.map((pin) => ({ ...pin, weight: 1 / variance }))) : [];
  });
}

/** A sine and cosine through pins, each group about its own mean, by weighted least squares. */
interface Swing {
  /** Amplitudes of cosine and sine, ms, and their covariance: both variances and what they share. */
  readonly amounts: readonly [number, number];
  readonly covariance: readonly [number, number, number];
  /** Weighted sums of squares: of all, and what of it the swing explains. */
  readonly whole: number;
  readonly explained: number;
}

/** null where the pins meet the swing at one place, and cannot tell it from a constant. */
function swingOf(groups: readonly PinMean[][], rate: number): Swing | null {
  const y = aboutGroups(groups, ({ ms }) => ms);
  const a = aboutGroups(groups, ({ at }) => Math.cos(rate * at));
  const b = aboutGroups(groups, ({ at }) => Math.sin(rate * at));
  const [aa, ab, bb, ay, by] = [dot(a, a), dot(a, b), dot(b, b), dot(a, y), dot(b, y)];
  const determinant = aa * bb - ab * ab;
  if (!(determinant > 1e-6 * aa * bb)) return null;
  const amounts = [(bb * ay - ab * by) / determinant, (aa * by - ab * ay) / determinant] as const;
  return {
    amounts,
    covariance: [bb / determinant, aa / determinant, -ab / determinant],
    whole: dot(y, y),
    explained: amounts[0] * ay + amounts[1] * by,
  };
}

/** How far two swings lie apart, as χ² of two degrees; 0 where one cannot be told. */
function apart(one: Swing | null, other: Swing | null): number {
  if (one === null || other === null) return 0;
  const [u, v] = one.amounts.map((amount, i) => amount - other.amounts[i]);
  const [uu, vv, uv] = one.covariance.map((value, i) => value + other.covariance[i]);
  return (u * u * vv - 2 * u * v * uv + v * v * uu) / (uu * vv - uv * uv);
}

/** Weighted by the root of the weight, each group's mean off, so that plain sums of products are the weighted ones. */
function aboutGroups(groups: readonly PinMean[][], of: (pin: PinMean) => number): Float64Array {
  return Float64Array.from(
    groups.flatMap((group) => {
      const middle = mean(group.map(of));
      return group.map((pin) => Math.sqrt(pin.weight) * (of(pin) - middle));
    }),
  );
}
