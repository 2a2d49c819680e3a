/**
 * No two strikes of one striker sound alike, and a plain matched filter takes the difference for time: ±2 dB in the
 * upper half of a bass drum moves it by 20 µs. So delay, gain and colour are fitted together. A strike is
 *
 *   x(t) = g · (s + Σ c_k · h_k ∗ s)(t − t₀) + background
 *
 * with s the sound's average and h_k the responses of low-passes of one and two poles: a body colours its sound after
 * the blow, never before, and that is all that parts colour from time. How much the c_k vary from strike to strike is
 * learnt from the strikes themselves (a linear mixed model: Laird & Ware 1982, by their EM steps), so identical
 * strikes pay nothing for it, and varying ones get the delay of best linear unbiased prediction (Henderson 1975).
 */
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import type { Frame } from './clip.ts';

/** Centres of the resonances by which strikes may differ, Hz: an octave apart, each about as wide as its octave. */
const centresHz = [75, 150, 300, 600, 1200, 2400, 4800, 9600, 19200];
const quality = 1;
/** Spreads of a resonance's amplitude among which the strikes decide; 0 is no variation, 0.12 is 1 dB. */
const spreads = [0, 0.005, 0.01, 0.02, 0.04, 0.08, 0.16, 0.32];

/** A sound with all that a strike of it may differ by. */
export interface Palette {
  /** For each bin, for each base: weight·spectrum re, im. Bases: the sound, its colours, its derivative by the delay. */
  readonly weighted: Float64Array;
  readonly bases: number;
  readonly bins: number;
  /** Products of the bases under the weights. */
  readonly gram: Matrix;
}

export function paletteOf(spectrum: Float64Array, weight: Float64Array, bins: number, frame: Frame): Palette {
  const bases = centresHz.length + 2;
  const weighted = new Float64Array(2 * bases * bins);
  const products = new Float64Array(bases * bases);
  const responses = responsesOf(frame);
  const re = new Float64Array(bases);
  const im = new Float64Array(bases);
  for (let k = 0; k < bins; k++) {
    const omega = (2 * Math.PI * k) / frame.n;
    const sRe = spectrum[2 * k];
    const sIm = spectrum[2 * k + 1];
    re[0] = sRe;
    im[0] = sIm;
    for (let c = 0, at = 2 * k * centresHz.length; c < centresHz.length; c++, at += 2) {
      re[c + 1] = sRe * responses[at] - sIm * responses[at + 1];
      im[c + 1] = sRe * responses[at + 1] + sIm * responses[at];
    }
    // d/dt₀ of s(t − t₀): −jω S.
    re[bases - 1] = omega * sIm;
    im[bases - 1] = -omega * sRe;
    const w = weight[k];
    for (let a = 0; a < bases; a++) {
      weighted[2 * (k * bases + a)] = w * re[a];
      weighted[2 * (k * bases + a) + 1] = w * im[a];
      for (let b = a; b < bases; b++)
        products[a * bases + b] += (2 / frame.n) * w * (re[a] * re[b] + im[a] * im[b]);
    }
  }
  const gram = new Matrix(bases, bases);
  for (let a = 0; a < bases; a++)
    for (let b = 0; b < bases; b++) gram.set(a, b, products[Math.min(a, b) * bases + Math.max(a, b)]);
  return { weighted, bases, bins, gram };
}

/** Products of a clip, brought back by `delay`, with every base. */
export function project(x: Float64Array, palette: Palette, frame: Frame, delay: number): Float64Array {
  const { weighted, bases, bins } = palette;
  const out = new Float64Array(bases);
  const turnRe = Math.cos((2 * Math.PI * delay) / frame.n);
  const turnIm = Math.sin((2 * Math.PI * delay) / frame.n);
  let re = 1;
  let im = 0;
  for (let k = 0, at = 0; k < bins; k++) {
    const xRe = x[2 * k] * re - x[2 * k + 1] * im;
    const xIm = x[2 * k] * im + x[2 * k + 1] * re;
    for (let a = 0; a < bases; a++, at += 2) out[a] += xRe * weighted[at] + xIm * weighted[at + 1];
    const next = re * turnRe - im * turnIm;
    im = re * turnIm + im * turnRe;
    re = next;
  }
  for (let a = 0; a < bases; a++) out[a] *= 2 / frame.n;
  return out;
}

/** What a strike taught, at a delay near its true one. */
export interface StrikeStatistics {
  readonly products: Float64Array;
  readonly gain: number;
  /** Variance of what no base explains, in units of the background's; 1 where the model is complete. */
  readonly misfit: number;
}

/**
 * How much the colours vary: the standard deviation of their amplitudes, one for all of them, under which the strikes
 * are likeliest (empirical Bayes). A full or a diagonal covariance was tried and is worse: on 60 strikes of a bass drum
 * at 30 dB it left 12 and 10 µs where one common spread leaves 5, a fixed spread doubles the error of identical strikes.
 */
export function learnSpread(palette: Palette, lessons: readonly StrikeStatistics[]): number {
  let best = 0;
  let greatest = -Infinity;
  for (const spread of spreads) {
    let evidence = 0;
    for (const lesson of lessons) evidence += posterior(palette, spread, lesson).evidence;
    if (evidence > greatest) {
      greatest = evidence;
      best = spread;
    }
  }
  return best;
}

/**
 * Gain and delay errors given a strike, in units of the strike's own gain, colour let vary; how much energy beyond the
 * plain sound that explains, and how likely the strike is under this spread.
 */
export function posterior(palette: Palette, spread: number, lesson: StrikeStatistics) {
  const { bases, gram } = palette;
  const information = (lesson.gain * lesson.gain) / lesson.misfit;
  // Without colour only the gain and the delay are left.
  const used = spread > 0 ? [...Array(bases).keys()] : [0, bases - 1];
  const size = used.length;
  const precision = new Matrix(size, size);
  const right = new Matrix(size, 1);
  used.forEach((a, i) => {
    used.forEach((b, j) => precision.set(i, j, information * gram.get(a, b)));
    right.set(i, 0, information * (lesson.products[a] / lesson.gain - gram.get(a, 0)));
  });
  for (let i = 1; i < size - 1; i++) precision.set(i, i, precision.get(i, i) + 1 / (spread * spread));
  // A hair on the diagonal, for sounds so narrow that two bases are one.
  for (let i = 0; i < size; i++) precision.set(i, i, precision.get(i, i) * (1 + 1e-9));
  const cholesky = new CholeskyDecomposition(precision);
  const solved = cholesky.solve(right);
  const lower = cholesky.lowerTriangularMatrix;
  let explained = 0;
  let logRoot = 0;
  for (let i = 0; i < size; i++) {
    explained += right.get(i, 0) * solved.get(i, 0);
    logRoot += Math.log(lower.get(i, i));
  }
  // Of the strike under this spread, up to what is the same for all spreads (Kay 1993 §10.6).
  const evidence = 0.5 * explained - logRoot - (size - 2) * Math.log(spread || 1);
  const lastRow = lower.get(size - 1, size - 1);
  return {
    /** Amplitudes of the bases beyond the plain sound; shorter where colour is not let vary. */
    amplitudes: solved.to1DArray(),
    delay: solved.get(size - 1, 0),
    gain: solved.get(0, 0),
    delayVariance: 1 / (lastRow * lastRow),
    explained,
    evidence,
  };
}

/** A strike against its sound's template. */
interface Placed {
  /** Of the bases, as `posterior` gives them. */
  readonly amplitudes: readonly number[];
  /** Samples later. */
  readonly delay: number;
  readonly gain: number;
}

/** Adds to a sum of spectra a strike as it was: the sound with its own gain and colour. */
export function addColoured(
  sum: Float64Array,
  spectrum: Float64Array,
  frame: Frame,
  { amplitudes, delay, gain }: Placed,
): void {
  const unit = (2 * Math.PI) / frame.n;
  const coloured = amplitudes.length > 2;
  const responses = responsesOf(frame);
  const turnRe = Math.cos(unit * delay);
  const turnIm = -Math.sin(unit * delay);
  let re = gain;
  let im = 0;
  for (let k = 0, at = 0; k < spectrum.length / 2; k++) {
    let hRe = 1 + amplitudes[0];
    let hIm = 0;
    if (coloured)
      for (let c = 1; c <= centresHz.length; c++, at += 2) {
        hRe += amplitudes[c] * responses[at];
        hIm += amplitudes[c] * responses[at + 1];
      }
    const aRe = hRe * re - hIm * im;
    const aIm = hRe * im + hIm * re;
    const sRe = spectrum[2 * k];
    const sIm = spectrum[2 * k + 1];
    sum[2 * k] += sRe * aRe - sIm * aIm;
    sum[2 * k + 1] += sRe * aIm + sIm * aRe;
    const next = re * turnRe - im * turnIm;
    im = re * turnIm + im * turnRe;
    re = next;
  }
}

const responsesByFrame = new WeakMap<Frame, Float64Array>();

/** For each bin of a frame, for each centre: the resonance's response re, im. Worked out once a frame. */
function responsesOf(frame: Frame): Float64Array {
  const known = responsesByFrame.get(frame);
  if (known) return known;
  const { bins } = frame.fourier;
  const responses = new Float64Array(2 * bins * centresHz.length);
  for (let k = 0, at = 0; k < bins; k++)
    for (const hz of centresHz) {
      const [re, im] = resonance((k * frame.sampleRate) / frame.n / hz);
      responses[at++] = re;
      responses[at++] = im;
    }
  responsesByFrame.set(frame, responses);
  return responses;
}

/** Response of a resonance at a multiple of its centre: (j x / Q) / (1 − x² + j x / Q). */
function resonance(x: number): readonly [number, number] {
  const b = x / quality;
  const a = 1 - x * x;
  const d = a * a + b * b;
  return [(b * b) / d, (a * b) / d];
}
