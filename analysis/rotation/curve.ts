/** A rotation curve through hits that were given pins, each channel's own lateness set apart, and how well it explains them. */
import { likeliestSpline, smoothingSpline, type Spline } from '../numbers/spline.ts';
import { median } from '../numbers/statistics.ts';
import { noiseS, speedWander, type FollowedPins } from './follow.ts';
import { asBuiltS, asBuiltSteps, clutterShare, logMissing, logSounds, type Events } from './guess.ts';
import type { EndlessPattern } from './pattern.ts';

/** Between two stands the barrel turns along one smooth curve. */
export interface Piece {
  readonly spline: Spline;
  readonly fromS: number;
  readonly toS: number;
}

export interface Curve {
  readonly pieces: readonly Piece[];
  /** By channel, s; the reference's is 0 where it was heard. */
  readonly offsetS: Float64Array;
  readonly timeAt: (position: number) => number;
  readonly positionAt: (timeS: number) => number;
}

/** The chord of a piece is so nearly its slope that two corrections leave some µs. */
const newtonSteps = 2;
/** Nobody hears better than this; also keeps a perfect take's arithmetic sound. */
const leastNoiseS = 1e-5;
/** A piece's curve needs so many different positions. */
const leastKnots = 3;
/** The likeliest curve is sought on no more knots than this, all of an hour's being no better for a first look. */
const mostKnots = 1500;

export interface CurveOptions {
  /** Index of the channel that has no lateness of its own. */
  readonly reference: number;
  readonly stepsPerBeat: number;
  /** How far the curve follows the hits is sought; else it follows them as the filter did, at once. */
  readonly likeliest: boolean;
}

/** @returns null where too few hits have pins */
export function fitCurve(
  events: Events,
  followed: FollowedPins,
  offsetS: Float64Array,
  options: CurveOptions,
): Curve | null {
  const starts = [0, ...followed.breaks];
  const pieces: Piece[] = [];
  starts.forEach((from, k) => {
    const to = starts[k + 1] ?? events.timeS.length;
    const spline = fitPiece(events, followed, offsetS, [from, to], options);
    if (spline === null) return;
    const end = spline.x.length - 1;
    pieces.push({ spline, fromS: spline.values[0], toS: spline.values[end] });
  });
  if (pieces.length === 0) return null;
  const timeAt = timeAlong(pieces);
  return {
    pieces,
    timeAt,
    positionAt: positionAlong(pieces),
    offsetS: offsets(events, followed, timeAt, offsetS, options.reference),
  };
}

function fitPiece(
  events: Events,
  { position, channel }: FollowedPins,
  offsetS: Float64Array,
  [from, to]: readonly [number, number],
  { stepsPerBeat, likeliest }: CurveOptions,
): Spline | null {
  const seen: [number, number][] = [];
  for (let i = from; i < to; i++)
    if (channel[i] >= 0) seen.push([position[i], events.timeS[i] - offsetS[channel[i]]]);
  seen.sort((a, b) => a[0] - b[0]);
  const x: number[] = [];
  const y: number[] = [];
  const variance: number[] = [];
  const every = Math.ceil(seen.length / mostKnots);
  // Hits at one position, and in long takes their neighbours, count as one knot at their mean.
  for (let i = 0; i < seen.length;) {
    let end = Math.min(seen.length, i + every);
    while (end < seen.length && seen[end][0] === seen[end - 1][0]) end++;
    const count = end - i;
    let [sumX, sumY] = [0, 0];
    for (let k = i; k < end; k++) {
      sumX += seen[k][0];
      sumY += seen[k][1];
    }
    x.push(sumX / count);
    y.push(sumY / count);
    variance.push(1 / count);
    i = end;
  }
  if (x.length < leastKnots) return null;
  const knots = Float64Array.from(x);
  if (likeliest) return likeliestSpline(knots, y, variance, leastNoiseS ** 2).spline;
  const secondsPerStep = (y[y.length - 1] - y[0]) / (x[x.length - 1] - x[0]);
  return smoothingSpline(
    knots,
    y,
    variance.map((share) => share * noiseS ** 2),
    (speedWander * secondsPerStep) ** 2 / stepsPerBeat,
  );
}

/** Each channel's median distance from the curve, on top of what was taken off already. */
function offsets(
  events: Events,
  { position, channel }: FollowedPins,
  timeAt: (position: number) => number,
  before: Float64Array,
  reference: number,
): Float64Array {
  const of = Array.from(before, () => [] as number[]);
  for (let i = 0; i < channel.length; i++)
    if (channel[i] >= 0) of[channel[i]].push(events.timeS[i] - timeAt(position[i]));
  const heard = of.filter((list) => list.length > 0);
  // A median of few hits is pulled towards none, so that a stray one does not move a channel far.
  const own = of.map((list) => (list.length > 0 ? (median(list) * list.length) / (list.length + 1) : 0));
  const zero = of[reference].length > 0 ? own[reference] : median(heard.map(median));
  return Float64Array.from(own, (value, c) => (of[c].length > 0 ? value - zero : 0));
}

function timeAlong(pieces: readonly Piece[]): (position: number) => number {
  return (position) => {
    for (let k = 0; k < pieces.length; k++) {
      const { spline } = pieces[k];
      const end = spline.x[spline.x.length - 1];
      if (position <= end || k === pieces.length - 1) {
        if (k === 0 || position >= spline.x[0]) return spline.at(position);
        // Between two pieces, where the drive stood: a straight line.
        const earlier = pieces[k - 1].spline;
        const last = earlier.x[earlier.x.length - 1];
        const share = (position - last) / (spline.x[0] - last);
        return pieces[k - 1].toS + share * (pieces[k].fromS - pieces[k - 1].toS);
      }
    }
    return NaN;
  };
}

function positionAlong(pieces: readonly Piece[]): (timeS: number) => number {
  return (timeS) => {
    const k = pieces.findIndex((piece, i) => timeS <= piece.toS || i === pieces.length - 1);
    const { spline, fromS, toS } = pieces[k];
    const { x } = spline;
    const end = x.length - 1;
    if (timeS < fromS && k > 0) {
      const earlier = pieces[k - 1];
      const last = earlier.spline.x[earlier.spline.x.length - 1];
      return last + ((timeS - earlier.toS) / (fromS - earlier.toS)) * (x[0] - last);
    }
    if (timeS <= fromS) return x[0] + (timeS - fromS) / speed(spline, x[0]);
    if (timeS >= toS) return x[end] + (timeS - toS) / speed(spline, x[end]);
    // The piece by halving, then Newton's steps within it; a curve through noisy hits need not rise everywhere.
    const { values } = spline;
    let [low, high] = [0, end];
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (values[middle] <= timeS) low = middle;
      else high = middle;
    }
    const chord = (values[high] - values[low]) / (x[high] - x[low]);
    const inside = (position: number) => Math.min(Math.max(position, x[low]), x[high]);
    let position = inside(x[low] + (timeS - values[low]) / chord);
    for (let i = 0; i < newtonSteps; i++) position = inside(position + (timeS - spline.at(position)) / chord);
    return position;
  };
}

/** Seconds a step; a curve's end bent by a stray hit never runs backwards. */
function speed(spline: Spline, position: number): number {
  const { x, values } = spline;
  const end = x.length - 1;
  const mean = (values[end] - values[0]) / (x[end] - x[0]);
  return Math.max(spline.slopeAt(position), mean / 10);
}

/** Gives every hit the nearest pin along the curve, each pin at most one hit, its channel's lateness allowed for. */
export function assign(
  events: Events,
  pattern: EndlessPattern,
  curve: Curve,
  reachS: number,
  shift = 0,
): FollowedPins {
  const n = events.timeS.length;
  const position = new Float64Array(n).fill(NaN);
  const channel = new Int32Array(n).fill(-1);
  const taken = pattern.stepsOf.map(() => ({ pin: NaN, by: -1, miss: Infinity }));
  for (let i = 0; i < n; i++) {
    let least = reachS;
    for (const c of events.candidates[i]) {
      const t = events.timeS[i] - curve.offsetS[c];
      const pin = pattern.nearest(c, curve.positionAt(t) + shift);
      const miss = Math.abs(t - curve.timeAt(pin - shift));
      const rival = taken[c];
      if (!(miss < least) || (rival.pin === pin && rival.miss <= miss)) continue;
      least = miss;
      position[i] = pin;
      channel[i] = c;
    }
    const c = channel[i];
    if (c < 0) continue;
    if (taken[c].pin === position[i]) {
      position[taken[c].by] = NaN;
      channel[taken[c].by] = -1;
    }
    taken[c] = { pin: position[i], by: i, miss: least };
  }
  const breaks: number[] = [];
  for (let k = 1; k < curve.pieces.length; k++) {
    const at = events.timeS.findIndex((t) => t > (curve.pieces[k - 1].toS + curve.pieces[k].fromS) / 2);
    if (at > 0) breaks.push(at);
  }
  return { position, channel, breaks };
}

/** What a hit's distance from its pin may be at all, s. */
export function reach(secondsPerStep: number): number {
  return Math.max(asBuiltS, asBuiltSteps * secondsPerStep);
}

export interface RotationScore {
  /** Log likelihood against noise alone. */
  readonly score: number;
  /** Hits that are a pin's, each pin at most one's. */
  readonly pinned: number;
  /** Places (`EndlessPattern`) with a hit that is a pin's of theirs. */
  readonly matched: number;
  /** Places that were due. */
  readonly due: number;
}

/** Share of a machine's hits that lie anywhere within reach, not normally about their pin. */
const wildShare = 0.1;
/** Log chance that of what strikes together before one microphone one is not told from the others. */
const logCovered = Math.log(0.3);
/** Below this spread two explanations do not differ by what counts: hits in wrong holes and pins unheard decide. */
const leastSpreadS = 0.002;

/**
 * How much likelier the hits are with this rotation than as noise: pins sound or are missing, hits lie normally about
 * their channel's own lateness (itself unknown within what is usual as built), or are no pin's.
 */
export function rotationScore(
  events: Events,
  pattern: EndlessPattern,
  { position, channel }: FollowedPins,
  curve: Curve,
  shift = 0,
): RotationScore {
  const n = events.timeS.length;
  const missesOf = pattern.stepsOf.map(() => [] as number[]);
  for (let i = 0; i < n; i++)
    if (channel[i] >= 0) missesOf[channel[i]].push(events.timeS[i] - curve.timeAt(position[i] - shift));
  const rests = missesOf.flatMap((list) => {
    const middle = list.length > 0 ? median(list) : 0;
    return list.map((miss) => Math.abs(miss - middle));
  });
  const hits = rests.length;
  if (hits === 0) return { score: 0, pinned: 0, matched: 0, due: 0 };
  const heard = missesOf.filter((list) => list.length > 0);
  // 1.4826 makes the median absolute deviation a normal standard deviation; each channel's own median costs one.
  const freedom = Math.max(1, hits - heard.length);
  const spread = Math.max(leastSpreadS, (1.4826 * median(rests) * hits) / freedom);
  const spanS = Math.max(events.timeS[n - 1] - events.timeS[0], 1e-3);
  const clutterPerS = (clutterShare * n) / spanS;
  const secondsPerStep = Math.abs(
    spanS / (curve.positionAt(events.timeS[n - 1]) - curve.positionAt(events.timeS[0])),
  );
  const reachS = reach(secondsPerStep);
  const normal = (1 - wildShare) / (spread * Math.sqrt(2 * Math.PI));
  let score = 0;
  for (const rest of rests)
    score +=
      logSounds +
      Math.log((normal * Math.exp(-0.5 * (rest / spread) ** 2) + wildShare / (2 * reachS)) / clutterPerS);
  for (const list of heard) score -= 0.5 * Math.log(1 + list.length * (reachS / 2 / spread) ** 2);
  let [due, pins] = [0, 0];
  for (const { spline } of curve.pieces) {
    const [from, to] = [spline.x[0] + shift - 0.5, spline.x[spline.x.length - 1] + shift + 0.5];
    due += pattern.passed(from, to);
    pins += pattern.pinsPassed(from, to);
  }
  const places = new Set<string>();
  for (let i = 0; i < n; i++)
    if (channel[i] >= 0) places.add(`${pattern.groupOf[channel[i]]} ${position[i]}`);
  const matched = places.size;
  const unheard = Math.max(0, due - matched);
  const covered = Math.max(0, pins - hits - unheard);
  return { score: score + unheard * logMissing + covered * logCovered, pinned: hits, matched, due };
}
