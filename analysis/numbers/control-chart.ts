/**
 * A control chart of single values in the order in which they came: what is usual, and which values are not. Limits are
 * three sigmas either side of the mean, sigma the mean moving range over d2 = 1.128 for two values (NIST/SEMATECH e-Handbook of
 * Statistical Methods 6.3.2.2), so that a slow wear does not widen its own limits.
 */
import { mean } from './statistics.ts';

/** Mean range of two normal values over their standard deviation: 2/√π. */
export const d2OfTwo = 1.128;
/** So many in a row on one side of the middle are no chance: rule 4 of Western Electric's Statistical Quality Control Handbook (1956). */
const longRun = 8;
/** Fewer values make no limits. */
const leastValues = 4;

export interface ControlChart {
  readonly middle: number;
  readonly lower: number;
  readonly upper: number;
  /** Beside the values: out of the limits, the end of a long run on one side, or neither. */
  readonly signals: readonly ('beyond' | 'run' | null)[];
}

/** null of too few values. */
export function controlChart(values: readonly number[]): ControlChart | null {
  if (values.length < leastValues) return null;
  const middle = mean(values);
  const sigma = mean(values.slice(1).map((value, i) => Math.abs(value - values[i]))) / d2OfTwo;
  const [lower, upper] = [middle - 3 * sigma, middle + 3 * sigma];
  let run = 0;
  let side = 0;
  const signals = values.map((value) => {
    const now = Math.sign(value - middle);
    run = now !== 0 && now === side ? run + 1 : 1;
    side = now;
    return value < lower || value > upper ? 'beyond' : run >= longRun && side !== 0 ? 'run' : null;
  });
  return { middle, lower, upper, signals };
}
