/** The part of the package fft.js that we use; it comes without types. */
declare module 'fft.js' {
  /** Complex arrays are re, im, re, im …, 2n numbers. */
  export default class FFT {
    /** @throws Error where n is not a power of two or below 2 */
    constructor(n: number);
    createComplexArray(): number[];
    /** Fills bins 0 to n/2; the others are left for `completeSpectrum`. */
    realTransform(spectrum: number[], x: ArrayLike<number>): void;
    completeSpectrum(spectrum: number[]): void;
    /** 1/n included */
    inverseTransform(out: number[], spectrum: number[]): void;
  }
}
