/**
 * Times that were rounded: the step that all of them lie on, and what it does to a mean. A rounding error is no chance: it
 * comes back where strokes come at the same place between two steps, and then no number of turns takes it off.
 */
import { grouped } from '../numbers/grouped.ts';
import type { Hits } from '../hits/hits.ts';
import { median, robustSd } from '../numbers/statistics.ts';
import type { MatchedHit } from './match.ts';

/** Steps that recorders, video and writers of text round to, s, the coarsest first. */
const stepsS = [
  ...[1, 0.1, 1 / 24, 1001 / 30_000, 1 / 25, 1 / 30, 0.02, 1001 / 60_000, 1 / 60, 0.01, 0.005, 0.001],
  ...[8000, 11_025, 16_000, 22_050].map((hz) => 1 / hz),
  1e-4,
].sort((a, b) => b - a);
/** Places to which text is written, s. */
const placesS = [0.1, 0.01, 0.001, 1e-4, 1e-5, 1e-6, 1e-7];
/** Times on a step by their digits lie this near to it, s. */
const exactS = 1e-9;
/** Of fewer times a step says nothing. */
const leastTimes = 12;
/** Rounded times scatter by 0.29 of their step where they fall evenly, and by this at the very least. */
const leastOfStep = 0.05;
/**
 * Times rounded to coarser steps make a swing of their own, alike in all channels, which is told as rounding. Of finer steps, the
 * tenth of a millisecond that text is written to, half moves no pin by what matters.
 */
export const coarseStepMs = 0.5;
/** Beyond these the rest of a sawtooth's power, a fiftieth, is taken for chance. */
const harmonics = 12;

/**
 * The coarsest step on which all times lie, from any first one on, s; 0 where there is none that matters. Frames written
 * as text are themselves rounded to its last place, and lie off their step by as much.
 */
export function timeResolution(timesS: readonly number[]): number {
  if (timesS.length < leastTimes) return 0;
  const place = placesS.find((one) =>
    timesS.every((time) => offGrid(time, one) < exactS * Math.max(1, time)),
  );
  const slack = (place ?? 1e-7) * 1.02;
  const from = timesS[0];
  return (
    stepsS.find((step) => {
      const off = Math.max(...timesS.map((time) => offGrid(time - from, step)));
      return off < exactS || (slack < step / 8 && off <= slack);
    }) ?? 0
  );
}

function offGrid(time: number, step: number): number {
  return Math.abs(time / step - Math.round(time / step)) * step;
}

/** Step to which the times that markers alone tell are rounded, s; 0 where they are not. */
export function roundingStep({ track, timeS, heardS = timeS }: Hits, pairs: readonly MatchedHit[]): number {
  const step = timeResolution(Array.from(heardS).filter((_, i) => track[i] < 0));
  const late = grouped(pairs, ({ due }) => `${due.channel} ${due.sector}`);
  const rests = [...late.values()].flatMap((own) => {
    const middle = median(own.map(({ latenessS }) => latenessS));
    return own.map(({ latenessS }) => latenessS - middle);
  });
  // Beats may lie on a step by themselves; what was rounded to it scatters by part of it.
  return robustSd(rests) > leastOfStep * step ? step : 0;
}

/**
 * Variance that rounding brings into Σ amounts·times, beyond that of independent errors of step²/12 each, ms². The error of
 * one time is a sawtooth of where it lies between two steps; with the sawtooth's harmonics at an unknown phase the sum's
 * variance is Σ_k step²/(2π²k²)·|Σ amounts·exp(2πik·time/step)|². Chance moves strokes from their places: it takes a harmonic
 * off by exp(−(2πk·sd/step)²), which is why dither helps (Widrow & Kollár 2008, Quantization Noise; from memory).
 *
 * @param timesMs  where strokes would lie without chance
 * @param jitterMs2 chance of one
 */
export function roundingExcess(
  stepMs: number,
  timesMs: readonly number[],
  amounts: readonly number[],
  jitterMs2: number,
): number {
  const alone = amounts.reduce((sum, amount) => sum + amount ** 2, 0);
  let total = 0;
  for (let k = 1; k <= harmonics; k++) {
    let [even, odd] = [0, 0];
    timesMs.forEach((time, i) => {
      const phase = (2 * Math.PI * k * time) / stepMs;
      even += amounts[i] * Math.cos(phase);
      odd += amounts[i] * Math.sin(phase);
    });
    const kept = Math.exp(-jitterMs2 * ((2 * Math.PI * k) / stepMs) ** 2);
    total += (stepMs ** 2 / (2 * Math.PI ** 2 * k ** 2)) * kept * Math.max(0, even ** 2 + odd ** 2 - alone);
  }
  return total;
}
