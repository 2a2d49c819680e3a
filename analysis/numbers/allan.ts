/**
 * How a clock's time wanders over how long: the variances of Allan. Formulas from W. J. Riley, Handbook of Frequency
 * Stability Analysis, NIST Special Publication 1065 (2008), 5.2. Phase x in s at even spacing tau0S; m samples make an averaging time
 * τ = m·tau0S. Deviations of frequency are fractions, the time deviation is in s; NaN where the data are too short for m.
 */

/** Allan deviation of neighbouring stretches that do not overlap. */
export function allanDeviation(phaseS: ArrayLike<number>, tau0S: number, m: number): number {
  return fromSecondDifferences(phaseS, tau0S, m, m);
}

/** Overlapping Allan deviation: every start is used, so that it is surer. */
export function overlappingAllanDeviation(phaseS: ArrayLike<number>, tau0S: number, m: number): number {
  return fromSecondDifferences(phaseS, tau0S, m, 1);
}

function fromSecondDifferences(x: ArrayLike<number>, tau0S: number, m: number, stride: number): number {
  let squares = 0;
  let count = 0;
  for (let i = 0; i + 2 * m < x.length; i += stride) {
    squares += (x[i + 2 * m] - 2 * x[i + m] + x[i]) ** 2;
    count++;
  }
  return count === 0 ? NaN : Math.sqrt(squares / (2 * count)) / (m * tau0S);
}

/** Modified Allan deviation: phase is averaged over each stretch, which tells white jitter from flicker. */
export function modifiedAllanDeviation(phaseS: ArrayLike<number>, tau0S: number, m: number): number {
  const x = phaseS;
  const count = x.length - 3 * m + 1;
  if (count < 1) return NaN;
  let inner = 0;
  for (let i = 0; i < m; i++) inner += x[i + 2 * m] - 2 * x[i + m] + x[i];
  let squares = inner * inner;
  for (let j = 1; j < count; j++) {
    inner += x[j + 3 * m - 1] - 3 * x[j + 2 * m - 1] + 3 * x[j + m - 1] - x[j - 1];
    squares += inner * inner;
  }
  return Math.sqrt(squares / (2 * count)) / (m * m * tau0S);
}

/** Time deviation, s. */
export function timeDeviation(phaseS: ArrayLike<number>, tau0S: number, m: number): number {
  return ((m * tau0S) / Math.sqrt(3)) * modifiedAllanDeviation(phaseS, tau0S, m);
}

/** Phase from fractional frequencies: their running sum, one longer. */
export function phaseOf(frequencies: ArrayLike<number>, tau0S: number): Float64Array {
  const out = new Float64Array(frequencies.length + 1);
  for (let i = 0; i < frequencies.length; i++) out[i + 1] = out[i] + frequencies[i] * tau0S;
  return out;
}
