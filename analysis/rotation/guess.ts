/**
 * First guesses of how the barrel turns: a window of hits votes for the position at its middle, once for every step
 * time within reach (a Hough transform: Ballard 1981, Pattern Recognition 13:111). Each hit votes for every pin it may
 * be; where the pattern lies right the votes meet.
 */
import type { EndlessPattern } from './pattern.ts';

/** What was heard: times ascending, s, and for each the indices of the channels it may be (none: it takes no part). */
export interface Events {
  readonly timeS: Float64Array;
  readonly candidates: readonly (readonly number[])[];
}

export interface Guess {
  readonly secondsPerStep: number;
  /** Unwrapped position at `centreS`. */
  readonly position: number;
  readonly centreS: number;
  /** Log likelihood against nothing but noise. */
  readonly score: number;
}

/** Channels of a machine as built lie up to 40 ms early or late: hits that far from their pins must still agree. */
export const asBuiltS = 0.06;
/** At slow tempi lateness grows with the step's time, since shims are mm and not ms. */
export const asBuiltSteps = 0.25;
/** A second, narrower look where steps follow each other faster than that; below this no two channels would agree. */
const leastReachS = 0.01;
const narrowSteps = 0.3;
/** Log chance of a pin that nobody heard, and of a hit that is a pin's: one in ten strikes may be missing. */
export const logMissing = Math.log(0.1);
export const logSounds = Math.log(0.9);
/** Where a hit is so often near some pin that it says less than this, a step time is not worth a look. */
const leastMatch = 0.3;
/** Share of what is heard that is not the machine's pins. */
export const clutterShare = 0.1;
/** From one step time to the next the window's ends move by this share of the reach, half of it each. */
const rateStep = 1.4;
const mostRateStep = 0.1;
/** A window may lie where pins are few: so much of their usual number is surely there. */
const spareShare = 0.5;
/** Positions kept for one step time, and in all. */
const bestOfRate = 6;
const bestOfAll = 24;

/** Seconds a step, between which to look. */
export interface StepTimes {
  readonly slowest: number;
  readonly fastest: number;
}

/** Hits of a window: from the first up to, not including, the second. */
type Window = readonly [from: number, to: number];

/** @returns best first */
export function guessRotation(
  events: Events,
  window: Window,
  pattern: EndlessPattern,
  { slowest, fastest }: StepTimes,
): Guess[] {
  const [from, to] = window;
  const spanS = events.timeS[to - 1] - events.timeS[from];
  if (!(spanS > 0) || pattern.placesPerTurn === 0) return [];
  const found: Guess[] = [];
  const poll = newPoll(pattern);
  const n = to - from;
  /** Turning that fast, so many pins would have passed unheard that no agreement of the hits makes up for it. */
  const tooFast = (s: number, reachS: number) => {
    const passed = (spareShare * pattern.placesPerTurn * spanS) / (s * pattern.steps);
    return n * Math.max(0, matchOf(n, spanS, reachS)) + Math.max(0, passed - n) * logMissing < 0;
  };
  for (const narrow of [false, true]) {
    for (let s = slowest; s >= fastest;) {
      const wide = Math.max(asBuiltS, asBuiltSteps * s);
      const reachS = narrow ? Math.max(leastReachS, narrowSteps * s) : wide;
      if (tooFast(s, reachS)) break;
      if (!narrow || reachS < 0.7 * wide) found.push(...poll(events, window, s, reachS));
      s *= 1 - Math.min(mostRateStep, (rateStep * reachS) / spanS);
    }
  }
  return distinct(found, spanS, pattern.steps);
}

/** How much likelier a hit within reach of a pin is as that pin's than as noise, logarithm. */
function matchOf(hits: number, spanS: number, reachS: number): number {
  return logSounds - Math.log((2 * reachS * clutterShare * hits) / spanS);
}

function newPoll(pattern: EndlessPattern) {
  const { steps, stepsOfAny } = pattern;
  let votes = new Float64Array(0);
  let touched = new Int32Array(0);
  return (events: Events, [from, to]: Window, s: number, reachS: number): Guess[] => {
    const { timeS, candidates } = events;
    const spanS = timeS[to - 1] - timeS[from];
    const centreS = (timeS[from] + timeS[to - 1]) / 2;
    const match = matchOf(to - from, spanS, reachS);
    if (match < leastMatch) return [];
    // Four bins make the whole reach, so that hits spread over three quarters of it always meet.
    const bins = Math.max(8, Math.ceil(steps / (reachS / 2 / s)));
    const perStep = bins / steps;
    if (votes.length < bins + 3) votes = new Float64Array(2 * bins + 3);
    if (touched.length < bins) touched = new Int32Array(2 * bins);
    let count = 0;
    for (let i = from; i < to; i++) {
      const offset = ((timeS[i] - centreS) / s) * perStep;
      // Once for each step, however many channels have a pin there: it is one strike's vote.
      const pins = stepsOfAny(candidates[i]);
      const weight = 1 / Math.max(1, (pins.length * 2 * reachS) / (s * steps));
      for (const pin of pins) {
        let bin = Math.floor(pin * perStep - offset);
        while (bin < 0) bin += bins;
        while (bin >= bins) bin -= bins;
        if (votes[bin] === 0) touched[count++] = bin;
        votes[bin] += weight;
      }
    }
    const half = spanS / 2 / s;
    const best: Guess[] = [];
    for (let k = 0; k < 3; k++) votes[bins + k] = votes[k];
    for (let at = 0; at < count; at++) {
      const bin = touched[at];
      const sum = votes[bin] + votes[bin + 1] + votes[bin + 2] + votes[bin + 3];
      const matched = Math.min(sum, to - from);
      if (best.length === bestOfRate && matched * match <= best[bestOfRate - 1].score) continue;
      const position = ((bin + 2) % bins) / perStep;
      const missed = pattern.passed(position - half, position + half) - matched;
      const score = matched * match + Math.max(0, missed) * logMissing;
      insert(best, { secondsPerStep: s, position, centreS, score });
    }
    for (let at = 0; at < count; at++) votes[touched[at]] = 0;
    votes.fill(0, bins, bins + 3);
    return best;
  };
}

/** Keeps the best few in order. */
function insert(best: Guess[], guess: Guess): void {
  let at = best.length;
  while (at > 0 && best[at - 1].score < guess.score) at--;
  if (at >= bestOfRate) return;
  best.splice(at, 0, guess);
  if (best.length > bestOfRate) best.pop();
}

/** The best guesses that do not merely repeat a better one. */
function distinct(found: Guess[], spanS: number, steps: number): Guess[] {
  found.sort((a, b) => b.score - a.score);
  const kept: Guess[] = [];
  for (const guess of found) {
    if (kept.length === bestOfAll) break;
    const reachS = Math.max(asBuiltS, asBuiltSteps * guess.secondsPerStep) / 2;
    const repeats = kept.some((other) => {
      const apart = Math.abs(guess.position - other.position);
      const around = Math.min(apart, steps - apart) * guess.secondsPerStep;
      const rate = Math.abs(1 - guess.secondsPerStep / other.secondsPerStep) * (spanS / 2);
      return around < reachS && rate < reachS;
    });
    if (!repeats) kept.push(guess);
  }
  return kept;
}
