/**
 * The same rotation from other starts. Patterns repeat themselves, whole or nearly; the rotation's speed is sure long before
 * the step at which it began, so each other start is judged by the same likelihood.
 */
import { assign, reach, rotationScore, type Curve, type RotationScore } from './curve.ts';
import type { FollowedPins } from './follow.ts';
import type { Events } from './guess.ts';
import type { EndlessPattern } from './pattern.ts';

export interface Explanation extends RotationScore {
  readonly curve: Curve;
  readonly pins: FollowedPins;
}

/** Starts looked at closely: the repeats of a pattern within a turn are rarely more. */
const shiftsTried = 12;
/** Shifts are counted on this many hits at most. */
const shiftHits = 500;

export interface Start extends RotationScore {
  readonly curve: Curve;
  /** Steps to add to the curve's positions. */
  readonly shift: number;
}

/** The explanation itself and the same curve from other starts, best first. */
export function otherStarts(
  events: Events,
  { curve, pins, ...asFound }: Explanation,
  pattern: EndlessPattern,
): Start[] {
  const { steps, stepsOf } = pattern;
  const n = events.timeS.length;
  const span = curve.positionAt(events.timeS[n - 1]) - curve.positionAt(events.timeS[0]);
  const secondsPerStep = (events.timeS[n - 1] - events.timeS[0]) / span;
  const reachS = reach(secondsPerStep);
  const votes = new Float64Array(steps);
  const width = Math.max(0, Math.round(reachS / secondsPerStep - 0.5));
  const every = Math.ceil(n / shiftHits);
  for (let i = 0; i < n; i += every) {
    const position = curve.positionAt(events.timeS[i]);
    for (const c of events.candidates[i])
      for (const pin of stepsOf[c]) {
        const by = Math.round(pin - position);
        votes[((by % steps) + steps) % steps]++;
      }
  }
  // Channels lie off by a few steps where steps are short: a shift gathers its neighbours' votes.
  const gathered = gather(votes, width);
  const order = Array.from(gathered.keys())
    .filter(
      (by) =>
        gathered[by] >= gathered[(by + 1) % steps] && gathered[by] >= gathered[(by + steps - 1) % steps],
    )
    .sort((a, b) => gathered[b] - gathered[a] || a - b);
  const starts: Start[] = [{ ...asFound, curve, shift: 0 }];
  for (const by of order.slice(0, shiftsTried)) {
    const free: Curve = { ...curve, offsetS: new Float64Array(curve.offsetS.length) };
    const rough = assign(events, pattern, free, reachS, by);
    const offsetS = ownLateness(events, rough, curve, by);
    const tuned: Curve = { ...curve, offsetS };
    const other = assign(events, pattern, tuned, reachS, by);
    if (sameHoles(other, pins, steps) > n / 2) continue;
    starts.push({ ...rotationScore(events, pattern, other, tuned, by), curve: tuned, shift: by });
  }
  return starts.sort((a, b) => b.score - a.score);
}

function gather(votes: Float64Array, width: number): Float64Array {
  const steps = votes.length;
  return votes.map((_, by) => {
    let sum = 0;
    for (let k = -width; k <= width; k++) sum += votes[(((by + k) % steps) + steps) % steps];
    return sum;
  });
}

function ownLateness(events: Events, pins: FollowedPins, curve: Curve, shift: number): Float64Array {
  const sums = new Float64Array(curve.offsetS.length);
  const counts = new Float64Array(curve.offsetS.length);
  for (let i = 0; i < pins.channel.length; i++) {
    const c = pins.channel[i];
    if (c < 0) continue;
    sums[c] += events.timeS[i] - curve.timeAt(pins.position[i] - shift);
    counts[c]++;
  }
  return sums.map((sum, c) => (counts[c] > 0 ? sum / counts[c] : 0));
}

/** Hits that both give the same hole of the barrel. */
function sameHoles(a: FollowedPins, b: FollowedPins, steps: number): number {
  let same = 0;
  for (let i = 0; i < a.channel.length; i++) {
    const apart = a.position[i] - b.position[i];
    if (a.channel[i] >= 0 && a.channel[i] === b.channel[i] && apart % steps === 0) same++;
  }
  return same;
}
