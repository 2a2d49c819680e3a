/** Mean over `half` values either side of each and itself; fewer at the ends. */
export function centredMean(x: Float64Array, half: number): Float64Array {
  const sums = new Float64Array(x.length + 1);
  for (let i = 0; i < x.length; i++) sums[i + 1] = sums[i] + x[i];
  return x.map((_, i) => {
    const [from, to] = [Math.max(0, i - half), Math.min(x.length, i + half + 1)];
    return (sums[to] - sums[from]) / (to - from);
  });
}
