/**
 * How many of some pins a common lateness explains: the differences between a channel's hits and all its pins near them,
 * counted in a window that slides along (a cross-correlogram: Perkel, Gerstein & Moore 1967, Biophys. J. 7:419). A
 * pattern that repeats at no step has one peak, at the lateness that is true.
 */
import { median } from '../numbers/statistics.ts';
import { dueTimeS, type Due } from './match.ts';

/** One hit near one stroke that is due. */
export interface Difference {
  /** Hit less due time, s. */
  readonly byS: number;
  /** A pin's strokes together weigh 1. */
  readonly weight: number;
  readonly due: Due;
}

export interface Peak {
  readonly offsetS: number;
  /** Pins explained; a pin of which half the strokes are explained counts half. */
  readonly pins: number;
}

/**
 * @param hitS ascending, s
 * @param due  ascending
 * @returns every pair of a hit and a stroke no further apart than `reachS`, ascending by difference
 */
export function differences(
  hitS: ArrayLike<number>,
  due: readonly Due[],
  timeAt: (position: number) => number,
  reachS: number,
): Difference[] {
  const strokesOf = new Map<number, number>();
  for (const { step } of due) strokesOf.set(step, (strokesOf.get(step) ?? 0) + 1);
  const found: Difference[] = [];
  let low = 0;
  for (const stroke of due) {
    const dueS = dueTimeS(stroke, timeAt);
    while (low < hitS.length && hitS[low] < dueS - reachS) low++;
    for (let i = low; i < hitS.length && hitS[i] <= dueS + reachS; i++)
      found.push({ byS: hitS[i] - dueS, weight: 1 / strokesOf.get(stroke.step)!, due: stroke });
  }
  return found.sort((a, b) => a.byS - b.byS);
}

/**
 * The window that explains most pins among those whose middle `allowed` accepts; of equals the one nearest to zero.
 *
 * @param all ascending by difference
 * @param halfS half the window's width, s
 */
export function highestPeak(
  all: readonly Difference[],
  halfS: number,
  allowed: (offsetS: number) => boolean,
): Peak {
  let best: Peak = { offsetS: NaN, pins: 0 };
  let sum = 0;
  for (let from = 0, to = 0; from < all.length; from++) {
    while (to < all.length && all[to].byS <= all[from].byS + 2 * halfS) sum += all[to++].weight;
    // The window's own middle value: an edge that a stray hit draws does not move it.
    const offsetS = all[(from + to - 1) >> 1].byS;
    const better =
      sum > best.pins + leastGain ||
      (sum > best.pins - leastGain && Math.abs(offsetS) < Math.abs(best.offsetS));
    if (better && allowed(offsetS)) best = { offsetS, pins: sum };
    sum -= all[from].weight;
  }
  return best;
}

/** Sums of fractions differ by rounding. */
const leastGain = 1e-9;

/** Pins that lie within half a window of an offset, and their middle. */
export function peakAt(all: readonly Difference[], halfS: number, offsetS: number): Peak {
  const near = all.filter(({ byS }) => Math.abs(byS - offsetS) <= halfS);
  if (near.length === 0) return { offsetS, pins: 0 };
  return {
    offsetS: median(near.map(({ byS }) => byS)),
    pins: near.reduce((sum, { weight }) => sum + weight, 0),
  };
}
