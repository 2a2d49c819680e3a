/** How well what was heard agrees with what was played. */

/** Onset evaluation matches within ± this here: half the least distance of two strikes of one channel, and far below MIREX's 50 ms. */
export const toleranceS = 0.005;

export interface Score {
  readonly played: number;
  readonly heard: number;
  readonly matched: number;
  /** 2·matched / (played + heard); NaN where nothing was played nor heard. */
  readonly f1: number;
  /** Mean of heard − played over matched pairs, ms; NaN where there is none. */
  readonly biasMs: number;
  /** Standard deviation of the same, µs; NaN below two. */
  readonly spreadUs: number;
  /** The same by the median absolute deviation × 1.4826, µs: what most hits do. */
  readonly robustSpreadUs: number;
  /** heard − played of each pair, s, in order of time. */
  readonly errorsS: readonly number[];
}

/** @param played,heard times of one channel, s, in any order */
export function score(played: readonly number[], heard: readonly number[], withinS = toleranceS): Score {
  const a = [...played].sort((x, y) => x - y);
  const b = [...heard].sort((x, y) => x - y);
  const errorsS = match(a, b, withinS).map(([i, j]) => b[j] - a[i]);
  const bias = mean(errorsS);
  const variance = errorsS.reduce((sum, e) => sum + (e - bias) ** 2, 0) / (errorsS.length - 1);
  const middle = median(errorsS);
  return {
    played: a.length,
    heard: b.length,
    matched: errorsS.length,
    f1: (2 * errorsS.length) / (a.length + b.length),
    biasMs: 1e3 * bias,
    spreadUs: errorsS.length > 1 ? 1e6 * Math.sqrt(variance) : NaN,
    robustSpreadUs: 1.4826e6 * median(errorsS.map((e) => Math.abs(e - middle))),
    errorsS,
  };
}

/**
 * One-to-one pairs, as many as can be within the tolerance, and of those the ones with the least sum of distances.
 * Both lists ascend, and pairs that cross can be uncrossed without any distance growing; so the best pairing is an
 * alignment of the two lists, found row by row as one compares two texts. It gives the same as trying all pairings.
 */
export function match(a: readonly number[], b: readonly number[], withinS: number): [number, number][] {
  const width = b.length + 1;
  const pairs = new Int32Array((a.length + 1) * width);
  const cost = new Float64Array(pairs.length);
  const better = (i: number, j: number) =>
    pairs[i] > pairs[j] || (pairs[i] === pairs[j] && cost[i] <= cost[j]);
  const close = (i: number, j: number) => Math.abs(a[i] - b[j]) <= withinS;
  for (let i = a.length - 1; i >= 0; i--) {
    for (let j = b.length - 1; j >= 0; j--) {
      const here = i * width + j;
      const best = better(here + width, here + 1) ? here + width : here + 1;
      pairs[here] = pairs[best];
      cost[here] = cost[best];
      const diagonal = here + width + 1;
      const total = cost[diagonal] + Math.abs(a[i] - b[j]);
      if (
        close(i, j) &&
        (pairs[diagonal] + 1 > pairs[here] || (pairs[diagonal] + 1 === pairs[here] && total < cost[here]))
      ) {
        pairs[here] = pairs[diagonal] + 1;
        cost[here] = total;
      }
    }
  }
  const out: [number, number][] = [];
  for (let i = 0, j = 0; i < a.length && j < b.length;) {
    const here = i * width + j;
    const skip = better(here + width, here + 1) ? here + width : here + 1;
    if (pairs[here] === pairs[skip] && cost[here] === cost[skip]) {
      if (skip === here + 1) j++;
      else i++;
    } else out.push([i++, j++]);
  }
  return out;
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, x) => sum + x, 0) / values.length;
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((x, y) => x - y);
  const half = sorted.length >> 1;
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}
