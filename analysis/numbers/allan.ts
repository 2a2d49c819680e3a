/**
 * How a clock's time wanders over how long: the overlapping Allan deviation, of which every start is used. Formula from
 * W. J. Riley, Handbook of Frequency Stability Analysis, NIST Special Publication 1065 (2008), 5.2.
 *
 * @param phaseS time error in s at even spacing `tau0S`, s
 * @param m samples that make an averaging time τ = m·tau0S
 * @returns a fraction of the frequency; NaN where the data are too short for m
 */
export function overlappingAllanDeviation(phaseS: ArrayLike<number>, tau0S: number, m: number): number {
  let squares = 0;
  let count = 0;
  for (let i = 0; i + 2 * m < phaseS.length; i++) {
    squares += (phaseS[i + 2 * m] - 2 * phaseS[i + m] + phaseS[i]) ** 2;
    count++;
  }
  return count === 0 ? NaN : Math.sqrt(squares / (2 * count)) / (m * tau0S);
}
