/**
 * What strikes have to be heard against: the sound just before them, room, motor and ringing of earlier strikes
 * together. Its spectrum, as an all-pole model, says how much each frequency may weigh.
 */
import type { Frame, RawClip } from './clip.ts';

export interface Background {
  /** Weight of each bin: one over the background's power there, so that weighted noise has variance 1 a sample. */
  readonly weight: Float64Array;
  /** Coefficients 1, a₁ … of the filter that makes the background white: y[t] = Σ a_k·x[t − k]. */
  readonly whitener: Float64Array;
  /** Mean square of the background, without its mean. */
  readonly power: number;
}

/** Poles: enough for a hum's slope and a few resonances of a room, few enough for a handful of windows to settle. */
const order = 24;
/** The quietest share of the windows speaks for the background; the rest may hold the tails of something else. */
const quietShare = 0.6;
/** How far below the strikes the background is let fall: no recording of a machine is cleaner than 80 dB. */
const floorBelowStrikes = 1e-8;

/** From the parts of the windows before their strikes. Without any: white, 80 dB below the strikes. */
export function backgroundOf(clips: readonly RawClip[], frame: Frame): Background {
  const length = frame.pre - Math.round(0.006 * frame.sampleRate);
  const lags = new Float64Array(order + 1);
  const powers = clips.map((clip) => meanSquare(clip.samples.subarray(0, length)));
  const strikePower = median(clips.map((clip) => meanSquare(clip.samples.subarray(frame.pre))));
  const limit = quantile(powers, quietShare);
  let used = 0;
  clips.forEach((clip, i) => {
    if (powers[i] > limit || clip.from < 0) return;
    used++;
    addAutocorrelation(clip.samples.subarray(0, length), lags);
  });
  const floor = Math.max(floorBelowStrikes * strikePower, 1e-16);
  for (let k = 0; k <= order; k++) lags[k] /= Math.max(1, used);
  const power = lags[0];
  lags[0] = lags[0] * (1 + 1e-6) + floor;
  const { poles, error } = levinson(lags);
  return { weight: inversePower(poles, error, frame), whitener: poles, power };
}

/** A spectrum's waveform under the weights: the background in it has variance 1 a sample. */
export function whitened(spectrum: Float64Array, { weight }: Background, frame: Frame): Float64Array {
  const half = new Float64Array(spectrum.length);
  for (let k = 0; k < weight.length; k++) {
    const root = Math.sqrt(weight[k]);
    half[2 * k] = root * spectrum[2 * k];
    half[2 * k + 1] = root * spectrum[2 * k + 1];
  }
  return frame.fourier.inverse(half);
}

/** Energy of a waveform summed from its start: one value more than it has samples. */
export function cumulated(white: Float64Array): Float64Array {
  const sums = new Float64Array(white.length + 1);
  for (let i = 0; i < white.length; i++) sums[i + 1] = sums[i] + white[i] * white[i];
  return sums;
}

/** Levinson–Durbin recursion (Makhoul 1975): the all-pole model of these autocorrelations. */
export function levinson(lags: Float64Array): { poles: Float64Array; error: number } {
  const p = lags.length - 1;
  let a = new Float64Array(p + 1);
  a[0] = 1;
  let error = lags[0];
  for (let i = 1; i <= p; i++) {
    let k = lags[i];
    for (let j = 1; j < i; j++) k += a[j] * lags[i - j];
    k /= -error;
    const next = Float64Array.from(a);
    for (let j = 1; j <= i; j++) next[j] += k * a[i - j];
    a = next;
    error *= 1 - k * k;
  }
  return { poles: a, error };
}

function inversePower(poles: Float64Array, error: number, frame: Frame): Float64Array {
  const padded = new Float64Array(frame.n);
  padded.set(poles);
  const spectrum = frame.fourier.forward(padded);
  const weight = new Float64Array(frame.fourier.bins);
  for (let k = 0; k < weight.length; k++)
    weight[k] = (spectrum[2 * k] ** 2 + spectrum[2 * k + 1] ** 2) / error;
  // A recording's mean says nothing, and Nyquist's bin has no phase.
  weight[0] = 0;
  weight[weight.length - 1] = 0;
  return weight;
}

/** Adds the autocorrelation of x less its mean, at lags 0 to out.length − 1, per sample. */
function addAutocorrelation(x: Float64Array, out: Float64Array): void {
  const mean = x.reduce((sum, v) => sum + v, 0) / x.length;
  const y = Float64Array.from(x, (v) => v - mean);
  for (let lag = 0; lag < out.length; lag++) {
    let sum = 0;
    for (let i = lag; i < y.length; i++) sum += y[i] * y[i - lag];
    out[lag] += sum / y.length;
  }
}

function meanSquare(x: Float64Array): number {
  let sum = 0;
  let squares = 0;
  for (const v of x) {
    sum += v;
    squares += v * v;
  }
  return x.length === 0 ? 0 : Math.max(0, squares / x.length - (sum / x.length) ** 2);
}

function quantile(values: readonly number[], q: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted.length === 0 ? 0 : sorted[Math.floor(q * (sorted.length - 1))];
}

const median = (values: readonly number[]) => quantile(values, 0.5);
