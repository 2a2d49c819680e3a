/**
 * Fourier transforms of real samples, in double precision, of lengths that are powers of two.
 *
 * The package fft.js (radix 4) was chosen by measurement: of the five compared it is the fastest in double precision
 * at every length from 256 to 65536. One compiled to WebAssembly is four to six times faster still, but rounds at 1e-7
 * and can only be loaded asynchronously from a file of its own. `npm run bench fft` prints the comparison again.
 */
import FFT from 'fft.js';

/** Transforms of one length. It keeps its working arrays, so make one and use it many times. */
export class RealFourier {
  /** n/2 + 1: what the transform of n real values comes to, the rest being its mirror image. */
  readonly bins: number;
  private readonly fft: FFT;
  /** One kind of array each, whatever callers hand in: the engine then runs one version of the inner loops, half again faster. */
  private readonly input: Float64Array;
  private readonly full: number[];
  private readonly halfFft: FFT;
  private readonly packed: number[];
  private readonly time: number[];
  /** cos, sin of 2πk/n for k below n/2 */
  private readonly turns: Float64Array;

  /** @param n a power of two, 4 at least */
  constructor(readonly n: number) {
    this.bins = n / 2 + 1;
    this.fft = new FFT(n);
    this.input = new Float64Array(n);
    this.full = this.fft.createComplexArray();
    this.halfFft = new FFT(n / 2);
    this.packed = this.halfFft.createComplexArray();
    this.time = this.halfFft.createComplexArray();
    this.turns = Float64Array.from({ length: n }, (_, i) => {
      const angle = (2 * Math.PI * (i >> 1)) / n;
      return i % 2 ? Math.sin(angle) : Math.cos(angle);
    });
  }

  /**
   * X[k] = Σ x[t]·e^(−2πikt/n) for k from 0 to n/2.
   *
   * @param x n values
   * @returns re, im, re, im …: 2·bins values, in `out`
   */
  forward(x: ArrayLike<number>, out = new Float64Array(2 * this.bins)): Float64Array {
    const { full } = this;
    this.transform(x);
    for (let i = 0; i < out.length; i++) out[i] = full[i];
    // Real input has none here; the package leaves what its arithmetic happened to leave.
    out[1] = 0;
    out[out.length - 1] = 0;
    return out;
  }

  /**
   * The n real values whose transform this is, 1/n included: it undoes `forward`.
   *
   * Even samples are taken as real and odd ones as imaginary parts of n/2 complex values, whose transform is
   * Z[k] = ½(X[k] + X*[n/2 − k]) + ½i·e^(2πik/n)·(X[k] − X*[n/2 − k]) (Sorensen et al. 1987): half the work.
   */
  inverse(spectrum: Float64Array, out = new Float64Array(this.n)): Float64Array {
    const { packed, time, turns, n } = this;
    for (let i = 0; i < n; i += 2) {
      const re = spectrum[i];
      const im = spectrum[i + 1];
      const mirrorRe = spectrum[n - i];
      const mirrorIm = -spectrum[n - i + 1];
      const oddRe = re - mirrorRe;
      const oddIm = im - mirrorIm;
      packed[i] = 0.5 * (re + mirrorRe - turns[i] * oddIm - turns[i + 1] * oddRe);
      packed[i + 1] = 0.5 * (im + mirrorIm + turns[i] * oddRe - turns[i + 1] * oddIm);
    }
    this.halfFft.inverseTransform(time, packed);
    for (let i = 0; i < n; i++) out[i] = time[i];
    return out;
  }

  /** |X[k]|² of n values, `bins` of them. */
  power(x: ArrayLike<number>, out = new Float64Array(this.bins)): Float64Array {
    const { full } = this;
    this.transform(x);
    for (let k = 0; k < out.length; k++)
      out[k] = full[2 * k] * full[2 * k] + full[2 * k + 1] * full[2 * k + 1];
    return out;
  }

  private transform(x: ArrayLike<number>): void {
    this.input.set(x);
    this.fft.realTransform(this.full, this.input);
  }
}

/** Σ x[t + lag]·y[t] for every lag, round the circle, from the spectra of x and y; above `bins` one of them has nothing. */
export function correlated(
  x: Float64Array,
  y: Float64Array,
  fourier: RealFourier,
  bins = fourier.bins,
): Float64Array {
  const product = new Float64Array(x.length);
  for (let k = 0; k < 2 * bins; k += 2) {
    product[k] = x[k] * y[k] + x[k + 1] * y[k + 1];
    product[k + 1] = x[k + 1] * y[k] - x[k] * y[k + 1];
  }
  return fourier.inverse(product);
}

/** The first `length` values, zeros behind them where there are fewer. */
export function padded(x: Float64Array, length: number): Float64Array {
  const out = new Float64Array(length);
  out.set(x.subarray(0, length));
  return out;
}
