/** The parts we call of packages that are only compared with and come without types. */
declare module 'ooura' {
  export default class Ooura {
    constructor(n: number, options: { type: 'real' | 'complex'; radix: 2 | 4 });
    vectorArrayFactory(): Float64Array<ArrayBuffer>;
    scalarArrayFactory(): Float64Array<ArrayBuffer>;
    fft(input: ArrayBufferLike, re: ArrayBuffer, im: ArrayBuffer): void;
    ifft(output: ArrayBuffer, re: ArrayBuffer, im: ArrayBuffer): void;
  }
}

declare module 'ml-fft' {
  export const FFT: {
    init(n: number): void;
    fft(re: Float64Array, im: Float64Array): void;
    ifft(re: Float64Array, im: Float64Array): void;
  };
}

declare module '@echogarden/pffft-wasm/simd' {
  export default function load(): Promise<{
    readonly HEAPF32: Float32Array;
    _pffft_new_setup(n: number, transform: number): number;
    _pffft_aligned_malloc(bytes: number): number;
    _pffft_transform_ordered(
      setup: number,
      input: number,
      output: number,
      work: number,
      direction: number,
    ): void;
  }>;
}

declare module 'fourier-transform' {
  type Spectrum = [re: Float64Array, im: Float64Array];
  export function fft(input: ArrayLike<number>, output: Spectrum): Spectrum;
  export function ifft(re: Float64Array, im: Float64Array, output: Float64Array): Float64Array;
}
