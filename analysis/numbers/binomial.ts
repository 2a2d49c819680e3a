/** Chance of so many or more out of n, each with probability p on its own. */
export function binomialUpper(atLeast: number, n: number, p: number): number {
  if (atLeast <= 0) return 1;
  if (p <= 0) return 0;
  if (p >= 1) return atLeast <= n ? 1 : 0;
  let term = n * Math.log1p(-p);
  let total = 0;
  for (let k = 0; k <= n; k++) {
    if (k >= atLeast) total += Math.exp(term);
    term += Math.log((n - k) / (k + 1)) + Math.log(p) - Math.log1p(-p);
  }
  return Math.min(1, total);
}
