/** What the course's wander leaves of an error: how far it runs from what weighted strokes see of it. */

/**
 * ∫g², g(u) = Σ amounts·(p − u)₊ − Σ weights·(x − u)₊: the variance that a unit of wander leaves in Σ amounts·t(p) when
 * it is estimated as Σ weights·t(x). Weights and amounts together annihilate lines, so g ends at both sides.
 *
 * @param knot of each weight, its index in x
 */
export function wanderSeen(
  x: Float64Array,
  knot: ArrayLike<number>,
  weights: Float64Array,
  positions: ArrayLike<number>,
  amounts: ArrayLike<number>,
): number {
  const onKnots = new Float64Array(x.length);
  for (let i = 0; i < weights.length; i++) onKnots[knot[i]] += weights[i];
  const order = Array.from(positions, (_, k) => k).sort((a, b) => positions[a] - positions[b]);
  let [i, k] = [x.length - 1, order.length - 1];
  let [slope, level] = [0, 0];
  let total = 0;
  let u = Infinity;
  let g = 0;
  while (i >= 0 || k >= 0) {
    const fromX = k < 0 || (i >= 0 && x[i] >= positions[order[k]]);
    const next = fromX ? x[i] : positions[order[k]];
    if (u < Infinity) {
      const there = level - slope * next;
      total += ((u - next) * (g * g + g * there + there * there)) / 3;
    }
    const amount = fromX ? -onKnots[i--] : amounts[order[k]];
    if (!fromX) k--;
    slope += amount;
    level += amount * next;
    u = next;
    g = level - slope * u;
  }
  return total;
}
