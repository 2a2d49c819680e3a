import fCdf from '@stdlib/stats-base-dists-f-cdf';

/**
 * Chance of so many or more out of n, each with probability p on its own: the regularised incomplete beta function
 * I_p(k, n − k + 1) (Abramowitz & Stegun 26.5.24), which is the F distribution's (26.6.2).
 */
export function binomialUpper(atLeast: number, n: number, p: number): number {
  if (atLeast <= 0) return 1;
  if (atLeast > n || p <= 0) return 0;
  if (p >= 1) return 1;
  const [above, below] = [2 * atLeast, 2 * (n - atLeast + 1)];
  return fCdf((p / (1 - p)) * (below / above), above, below);
}
