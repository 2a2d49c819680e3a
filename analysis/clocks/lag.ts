/**
 * How much later one strike's sound is in another file: the generalised cross-correlation of its attack as the near
 * microphone hears it with what the far one hears then (Knapp & Carter 1976). Each frequency of the near sound counts by its
 * phase alone, so that a sound that rings gives one peak and not one a period.
 */
import { RealFourier } from '../numbers/fft.ts';
import { piece, type FileSound } from './sound.ts';

/** Hz; attacks hold enough below 12 kHz, and phones hold no more. */
const rate = 32_000;
/** Of the attack, s: before and after the moment, which is known to about a hop. */
const leadS = 0.002;
const attackS = 0.012;
/** Of the attack, for its level, s. */
const levelS = 0.004;
/** Below, a microphone hears the room's hum; Hz. */
const lowestHz = 300;
const highestHz = 12_000;
/** Bins weaker than this share of the strongest hold noise. */
const leastShare = 0.02;

export interface Lag {
  /** Of the strike in the near file, s. */
  readonly timeS: number;
  /** The far file's time of it less the near one's, s. */
  readonly lagS: number;
  /** Height of the peak against the rms of all that was searched: noise reaches about 3.5. */
  readonly clarity: number;
  /** How much louder the near file has it than the far one, dB. */
  readonly overDb: number;
}

const fouriers = new Map<number, RealFourier>();

function fourierOf(n: number): RealFourier {
  let fourier = fouriers.get(n);
  if (!fourier) fouriers.set(n, (fourier = new RealFourier(n)));
  return fourier;
}

/**
 * @param timeS  of the strike in the near file
 * @param aboutS where its lag is expected
 * @param reachS how far off that is searched
 */
export async function lagOf(
  near: FileSound,
  far: FileSound,
  timeS: number,
  aboutS: number,
  reachS: number,
): Promise<Lag> {
  const reach = Math.ceil(reachS * rate);
  const length = Math.round((leadS + attackS) * rate);
  const fourier = fourierOf(2 ** Math.ceil(Math.log2(length + 2 * reach)));
  const { n } = fourier;
  const x = new Float64Array(n);
  const y = new Float64Array(n);
  x.set(await piece(near, timeS - leadS, length, rate));
  y.set(await piece(far, timeS + aboutS - leadS - reach / rate, length + 2 * reach, rate));
  for (let i = 0; i < length; i++) x[i] *= fadeOf(i, length);
  const X = fourier.forward(x);
  const Y = fourier.forward(y);
  const sums = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) sums[i + 1] = sums[i] + (i > 0 ? (y[i] - y[i - 1]) ** 2 : 0);
  let strongest = 0;
  let loudest = 0;
  for (let k = 0; k < X.length; k += 2) {
    strongest = Math.max(strongest, Math.hypot(X[k], X[k + 1]));
    loudest = Math.max(loudest, Math.hypot(Y[k], Y[k + 1]));
  }
  for (let k = 0; k < X.length; k += 2) {
    const hz = ((k / 2) * rate) / n;
    const isIn = hz >= lowestHz && hz <= highestHz;
    const a = Math.hypot(X[k], X[k + 1]) + leastShare * strongest;
    const b = Math.hypot(Y[k], Y[k + 1]) + leastShare * loudest;
    const weight = isIn && strongest > 0 && loudest > 0 ? 1 / (a * b) : 0;
    const re = (Y[k] * X[k] + Y[k + 1] * X[k + 1]) * weight;
    Y[k + 1] = (Y[k + 1] * X[k] - Y[k] * X[k + 1]) * weight;
    Y[k] = re;
  }
  const found = fourier.inverse(Y);
  const { at, clarity } = peakOf(found.subarray(0, 2 * reach + 1));
  const own = attackPower(x, Math.round(leadS * rate));
  const there = Math.round(at) + Math.round(leadS * rate);
  const other = sums[Math.min(n, there + Math.round(levelS * rate))] - sums[Math.max(0, there)];
  return {
    timeS,
    lagS: aboutS + (at - reach) / rate,
    clarity,
    overDb: 10 * Math.log10((own + 1e-20) / (other + 1e-20)),
  };
}

/** Quick in, slow out: what comes first is the strike's own. */
function fadeOf(i: number, length: number): number {
  const rise = Math.min(1, i / (0.001 * rate));
  return rise * 0.5 * (1 + Math.cos((Math.PI * i) / length));
}

/** Of the first difference, over `levelS`. */
function attackPower(x: Float64Array, from: number): number {
  let sum = 0;
  for (let i = from; i < from + levelS * rate; i++) sum += (x[i] - x[i - 1]) ** 2;
  return sum;
}

/** The highest of either sign, between samples by a parabola through three. */
function peakOf(found: Float64Array): { at: number; clarity: number } {
  let top = 1;
  let power = 0;
  for (let i = 0; i < found.length; i++) {
    power += found[i] * found[i];
    if (i > 0 && i + 1 < found.length && Math.abs(found[i]) > Math.abs(found[top])) top = i;
  }
  const sign = Math.sign(found[top]) || 1;
  const [left, middle, right] = [found[top - 1] * sign, found[top] * sign, found[top + 1] * sign];
  const bend = left - 2 * middle + right;
  const rms = Math.sqrt(power / found.length);
  return { at: top + (bend < 0 ? (0.5 * (left - right)) / bend : 0), clarity: rms > 0 ? middle / rms : 0 };
}
