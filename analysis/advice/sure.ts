/** What an interval says for certain of a lateness and its tolerance. */

/** null: the interval reaches across the tolerance. */
export type Sure = 'within' | 'late' | 'early' | null;

/** @param ci95Ms half-width of the 95 % interval */
export function surely(meanMs: number, ci95Ms: number, toleranceMs: number): Sure {
  const size = Math.abs(meanMs);
  if (size + ci95Ms <= toleranceMs) return 'within';
  if (size - ci95Ms > toleranceMs) return meanMs > 0 ? 'late' : 'early';
  return null;
}
