/**
 * How the barrel turned during a take, from nothing but which channels were heard when: start anywhere, tempo near
 * what was aimed at or unknown, hits missing, added, or in the wrong hole.
 *
 * Windows of hits vote for step time and position (guess.ts); the best guesses are followed through the take
 * (follow.ts); each is scored by the likelihood of all that was heard and not heard (curve.ts). What
 * explains the take as well from another start is named, and settled by what the person said, or not at all.
 */
import { modulo } from '../numbers/modulo.ts';
import type { Machine } from '../machine/machine.ts';
import { assign, fitCurve, reach, rotationScore, type RotationScore } from './curve.ts';
import { followPins, standPins, type FollowedPins } from './follow.ts';
import { guessRotation, type Events, type Guess } from './guess.ts';
import { endlessPattern, type EndlessPattern } from './pattern.ts';
import { otherStarts, type Explanation, type Start } from './start.ts';

export interface RotationOptions {
  /** Tempo aimed at, beats a minute; the true one is sought within 30 % of it. null: anything from 1 to 300. */
  readonly bpm: number | null;
  /** Step at which the recording starts, as the person said. */
  readonly startStep: number | null;
  readonly sectorStarts: readonly { readonly timeS: number; readonly sector: number }[];
}

export interface RoughRotation {
  readonly found: boolean;
  /**
   * Unwrapped position at t = 0: in the first turn, −0.5 to steps − 0.5, and below it where the drive started later than
   * the take, since turns count from where it did. NaN where not found.
   */
  readonly startPosition: number;
  /** Over the whole take; NaN where not found. */
  readonly secondsPerStep: number;
  readonly positionAt: (timeS: number) => number;
  readonly timeAt: (position: number) => number;
  /** Other start steps that explain the take as well. */
  readonly rivals: readonly number[];
  readonly settledBy: 'pattern' | 'startStep' | 'sector-markers' | 'unsettled';
  /** Stretches between which the drive stood still, in positions; one where it never did. */
  readonly pieces: readonly { readonly from: number; readonly to: number }[];
  /** By channel: how late it lies against the rotation, s, roughly; 0 where it was not heard. */
  readonly offsetS: Float64Array;
  /** How well it explains what was heard; all 0 where it was not found. */
  readonly fit: RotationFit;
}

export interface RotationFit extends RotationScore {
  /** Hits that may be a pin's at all. */
  readonly hits: number;
}

const tempoRange = 0.3;
const slowestBpm = 1;
const fastestBpm = 300;
/** Hits in a window of the first guess: enough to tell any start from any other, few enough that speed hardly changes. */
const windowHits = 40;
const windowPlaces = [0.45, 0.05, 0.85];
/** Guesses of one window that are looked at closely, and those followed over many hits. */
const closeLooks = 10;
const followed = 4;
const followedHits = 600;
/** When this share of the hits have pins, and of the pins hits, no other tempo does better. */
const plain = 0.75;
/** Fewer hits than this fit anywhere. */
const leastHits = 3;
/** Log likelihood beyond the number of explanations tried: one false find in some thousand takes of noise. */
const certainty = 7;
/** Step times that a search tries, roughly; times the steps, the explanations there are. */
const ratesTried = 1000;
/** At most this share of hits may be no pin's in a found rotation. */
const mostUnexplained = 0.6;
/**
 * Log likelihood a hit. Where every hit may be any of several channels' some explanation is always found: of 60 takes of strikes
 * at random times 55 had one, at 0.5 to 1.5 a hit. With pins, a tenth of them unheard and as much again that is no
 * pin's, 48 takes had 3.8 to 5.2.
 */
const leastPerHit = 1.6;
/** An explanation that is less likely by no more than this explains the take as well. */
const asWell = 6;

/**
 * @param machine its pattern, and which channel is the reference
 * @param heard   hits of any length of take; the more surely each is named, the better
 * @returns `found: false` where too few hits fit, or no better than noise would
 */
export function findRotation(machine: Machine, heard: Events, options: RotationOptions): RoughRotation {
  const { barrel, channels } = machine.description;
  const audible = channels.map(() => false);
  for (const list of heard.candidates) for (const c of list) audible[c] = true;
  const pattern = endlessPattern(machine, audible, heardTogether(heard, channels.length));
  const events = withPins(heard, pattern);
  const n = events.timeS.length;
  if (n < leastHits) return notFound(channels.length);
  const stepS = (bpm: number) => 60 / (bpm * barrel.stepsPerBeat);
  const stepTimes = {
    slowest: stepS(options.bpm === null ? slowestBpm : options.bpm * (1 - tempoRange)),
    fastest: stepS(options.bpm === null ? fastestBpm : options.bpm * (1 + tempoRange)),
  };
  const search = { pattern, reference: machine.reference, stepsPerBeat: barrel.stepsPerBeat };

  const enough = certainty + Math.log(pattern.steps * ratesTried);
  const best: Explanation[] = [];
  for (const [from, to] of windows(n)) {
    const centre = (from + to) >> 1;
    const guesses = guessRotation(events, [from, to], pattern, stepTimes).slice(0, closeLooks);
    const near = inOrder(guesses, (guess) => explain(cut(events, from, to), guess, search)).slice(
      0,
      followed,
    );
    const [far] = inOrder(
      near.map(({ guess }) => guess),
      (guess) => explain(around(events, centre, followedHits), guess, search),
    );
    if (far === undefined || far.score < enough) continue;
    const explanation = explain(events, far.guess, search, true);
    if (explanation) best.push(explanation);
    if (best.some(({ matched, due }) => matched > plain * n && matched > plain * due)) break;
  }
  if (best.length === 0) return notFound(channels.length);
  best.sort((a, b) => b.score - a.score);
  const all = otherStarts(events, best[0], pattern);
  const [top] = all;
  if (
    top.score < Math.max(enough, leastPerHit * n) ||
    top.matched < leastHits ||
    top.matched < (1 - mostUnexplained) * n
  )
    return notFound(channels.length);
  const rivals = all.filter(({ score }) => score >= top.score - asWell);
  return settle(machine, rivals, options, pattern, events);
}

/** For each channel the first of those of which some hit may be either; itself where every hit tells it from the others. */
function heardTogether({ candidates }: Events, channels: number): number[] {
  const groupOf = Array.from({ length: channels }, (_, channel) => channel);
  for (const list of new Set(candidates)) {
    const groups = new Set(list.map((channel) => groupOf[channel]));
    if (groups.size < 2) continue;
    const first = Math.min(...groups);
    groupOf.forEach((group, channel) => {
      if (groups.has(group)) groupOf[channel] = first;
    });
  }
  return groupOf;
}

/** Those that can be followed, the likeliest first. */
function inOrder(
  guesses: readonly Guess[],
  look: (guess: Guess) => Explanation | null,
): { guess: Guess; score: number }[] {
  return guesses
    .flatMap((guess) => {
      const explanation = look(guess);
      return explanation ? [{ guess, score: explanation.score }] : [];
    })
    .sort((a, b) => b.score - a.score);
}

interface Search {
  readonly pattern: EndlessPattern;
  readonly reference: number;
  readonly stepsPerBeat: number;
}

/** Follows a guess through the hits, and lays them on the curve once more with each channel's lateness known. */
function explain(events: Events, guess: Guess, search: Search, likeliest = false): Explanation | null {
  const { pattern, reference, stepsPerBeat } = search;
  const fit = (pins: FollowedPins, offsetS: Float64Array, final = false) =>
    fitCurve(events, pins, offsetS, { reference, stepsPerBeat, likeliest: final && likeliest });
  const none = new Float64Array(pattern.stepsOf.length);
  const first = fit(followPins(events, search, guess, none, likeliest), none);
  if (first === null) return null;
  const again = fit(followPins(events, search, guess, first.offsetS, likeliest), first.offsetS);
  if (again === null) return null;
  const pins = assign(events, pattern, again, reach(guess.secondsPerStep));
  const curve = fit(pins, again.offsetS, true);
  return curve && { curve, pins, ...rotationScore(events, pattern, pins, curve) };
}

function settle(
  machine: Machine,
  starts: readonly Start[],
  options: RotationOptions,
  pattern: EndlessPattern,
  { timeS }: Events,
): RoughRotation {
  const { steps, sectors } = machine.description.barrel;
  const startStepOf = ({ curve, shift }: Start) => modulo(Math.round(curve.positionAt(0) + shift), steps);
  const apart = (a: number, b: number) => Math.abs(modulo(a - b + steps / 2, steps) - steps / 2);
  let settledBy: RoughRotation['settledBy'] = starts.length > 1 ? 'unsettled' : 'pattern';
  // Among equals the lowest start step, so that the choice does not hang on rounding.
  let order = [...starts].sort((a, b) => startStepOf(a) - startStepOf(b));
  const said = (distance: (start: Start) => number, by: RoughRotation['settledBy']) => {
    settledBy = by;
    order = order
      .map((start) => ({ start, off: distance(start) }))
      .sort((a, b) => a.off - b.off)
      .map(({ start }) => start);
  };
  if (starts.length > 1 && options.startStep !== null) {
    const { startStep } = options;
    said((start) => apart(start.curve.positionAt(0) + start.shift, startStep), 'startStep');
  } else if (starts.length > 1 && options.sectorStarts.length > 0) {
    said(
      (start) =>
        options.sectorStarts.reduce(
          (sum, { timeS, sector }) =>
            sum + apart(start.curve.positionAt(timeS) + start.shift, sectors[sector].from),
          0,
        ),
      'sector-markers',
    );
  }
  const [{ curve, shift, score, pinned, matched, due }] = order;
  const atZero = curve.positionAt(0) + shift;
  const atFirst = curve.positionAt(timeS[0]) + shift;
  // Where pin after pin would have been due before the first hit the drive was not yet running: turns count from there.
  const began = pattern.passed(atZero + 0.5, atFirst - 0.5) >= standPins ? atFirst : atZero;
  const turns = Math.floor((began + 0.5) / steps) * steps;
  const by = shift - turns;
  const { pieces } = curve;
  const ends = pieces.map(({ spline }) => [spline.x[0], spline.x[spline.x.length - 1]] as const);
  const turned = ends.reduce((sum, [from, to]) => sum + to - from, 0);
  const tookS = pieces.reduce((sum, { fromS, toS }) => sum + toS - fromS, 0);
  return {
    found: true,
    startPosition: curve.positionAt(0) + by,
    secondsPerStep: tookS / turned,
    positionAt: (timeS) => curve.positionAt(timeS) + by,
    timeAt: (position) => curve.timeAt(position - by),
    rivals: order.slice(1).map(startStepOf),
    settledBy,
    pieces: ends.map(([from, to]) => ({ from: from + by, to: to + by })),
    offsetS: curve.offsetS,
    fit: { score, pinned, matched, due, hits: timeS.length },
  };
}

/** Only hits that may be a pinned channel's. */
function withPins({ timeS, candidates }: Events, pattern: EndlessPattern): Events {
  const pinnedOf = new Map(
    [...new Set(candidates)].map((list) => [list, list.filter((c) => pattern.stepsOf[c].length > 0)]),
  );
  const pinned = candidates.map((list) => pinnedOf.get(list)!);
  const kept = Array.from(timeS.keys()).filter((i) => pinned[i].length > 0);
  return { timeS: Float64Array.from(kept, (i) => timeS[i]), candidates: kept.map((i) => pinned[i]) };
}

function cut({ timeS, candidates }: Events, from: number, to: number): Events {
  return { timeS: timeS.subarray(from, to), candidates: candidates.slice(from, to) };
}

/** At most so many hits about one of them. */
function around(events: Events, centre: number, count: number): Events {
  const from = Math.max(0, Math.min(centre - (count >> 1), events.timeS.length - count));
  return cut(events, from, from + count);
}

function windows(n: number): [number, number][] {
  if (n <= windowHits * 1.5) return [[0, n]];
  return windowPlaces.map((place) => {
    const from = Math.round(place * (n - windowHits));
    return [from, from + windowHits];
  });
}

function notFound(channels: number): RoughRotation {
  return {
    found: false,
    startPosition: NaN,
    secondsPerStep: NaN,
    positionAt: () => NaN,
    timeAt: () => NaN,
    rivals: [],
    settledBy: 'unsettled',
    pieces: [],
    offsetS: new Float64Array(channels),
    fit: { score: 0, pinned: 0, matched: 0, due: 0, hits: 0 },
  };
}
