/** The part of the package fourier-transform that we use; it comes without types. */
declare module 'fourier-transform' {
  type Spectrum = [re: Float64Array, im: Float64Array];
  /** X[k] = Σ x[n]·e^(−2πikn/N), bins 0 to N/2. Without `output` the result is overwritten by the next call. */
  export function fft(input: ArrayLike<number>, output?: Spectrum): Spectrum;
  /** The inverse of `fft`, 1/N included; the imaginary parts of bins 0 and N/2 are ignored. */
  export function ifft(re: Float64Array, im: Float64Array, output?: Float64Array): Float64Array;
}
