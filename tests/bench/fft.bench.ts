/** General-purpose FFT libraries from the npm registry, on real input: what analysis/numbers/fft.ts rests on. */
import pffft from '@echogarden/pffft-wasm/simd';
import { fft, ifft } from 'fourier-transform';
import { FFT as MlFft } from 'ml-fft';
import Ooura from 'ooura';
import { RealFourier } from '../../analysis/numbers/fft.ts';
import { seededRandom } from '../../samples/random.ts';
import { figure, type Table } from './bench.ts';

const sizes = [256, 1024, 4096, 16_384, 65_536];

/** Real samples to a spectrum, and there and back again; `back` leaves the samples in `result`. */
interface Candidate {
  readonly name: string;
  readonly there: (x: Float64Array) => void;
  readonly thereAndBack: (x: Float64Array) => void;
  readonly result: () => ArrayLike<number>;
}

export default async function bench(): Promise<Table[]> {
  const compiled = await pffft();
  const perSize = sizes.map((n) => {
    const random = seededRandom(n);
    const x = Float64Array.from({ length: n }, () => random.between(-1, 1));
    return [chosen(n), splitRadix(n), ooura(n), mlFft(n), simd(n, compiled)].map((candidate) => {
      const there = microseconds(() => candidate.there(x));
      const both = microseconds(() => candidate.thereAndBack(x));
      candidate.thereAndBack(x);
      const result = candidate.result();
      const error = x.reduce((worst, value, i) => Math.max(worst, Math.abs(value - result[i])), 0);
      return { name: candidate.name, there, both, error };
    });
  });
  const names = perSize[0].map((candidate) => candidate.name);
  const table = (title: string, of: (candidate: (typeof perSize)[number][number]) => string): Table => ({
    title,
    columns: ['library', ...sizes.map(String)],
    rows: names.map((name, i) => [name, ...perSize.map((candidates) => of(candidates[i]))]),
  });
  return [
    table('Real forward transform, µs by length', ({ there }) => figure(there)),
    table('Forward and inverse, µs by length', ({ both }) => figure(both)),
    {
      ...table('Greatest error there and back, by length', ({ error }) => error.toExponential(0)),
      notes: ['kissfft-wasm 1.1.2 was tried too: it does not load on Node 20 (it fetches its file by URL).'],
    },
  ];
}

function chosen(n: number): Candidate {
  const fourier = new RealFourier(n);
  const spectrum = new Float64Array(2 * fourier.bins);
  const out = new Float64Array(n);
  return {
    name: 'fft.js 4.0 (chosen)',
    there: (x) => fourier.forward(x, spectrum),
    thereAndBack: (x) => fourier.inverse(fourier.forward(x, spectrum), out),
    result: () => out,
  };
}

function splitRadix(n: number): Candidate {
  const re = new Float64Array(n / 2 + 1);
  const im = new Float64Array(n / 2 + 1);
  const out = new Float64Array(n);
  const there = (x: Float64Array) => fft(x, [re, im]);
  return {
    name: 'fourier-transform 2.5',
    there,
    thereAndBack(x) {
      there(x);
      ifft(re, im, out);
    },
    result: () => out,
  };
}

function ooura(n: number): Candidate {
  const fft = new Ooura(n, { type: 'real', radix: 4 });
  const re = fft.vectorArrayFactory();
  const im = fft.vectorArrayFactory();
  const out = fft.scalarArrayFactory();
  const there = (x: Float64Array) => fft.fft(x.buffer, re.buffer, im.buffer);
  return {
    name: 'ooura 2.1',
    there,
    thereAndBack(x) {
      there(x);
      fft.ifft(out.buffer, re.buffer, im.buffer);
    },
    result: () => out,
  };
}

function mlFft(n: number): Candidate {
  const re = new Float64Array(n);
  const im = new Float64Array(n);
  const there = (x: Float64Array) => {
    MlFft.init(n);
    re.set(x);
    im.fill(0);
    MlFft.fft(re, im);
  };
  return {
    name: 'ml-fft 1.3 (complex only)',
    there,
    thereAndBack(x) {
      there(x);
      MlFft.ifft(re, im);
    },
    result: () => re,
  };
}

function simd(n: number, wasm: Awaited<ReturnType<typeof pffft>>): Candidate {
  const REAL = 0;
  const [FORWARD, BACKWARD] = [0, 1];
  const setup = wasm._pffft_new_setup(n, REAL);
  const [samples, spectrum, work] = [0, 1, 2].map(() => wasm._pffft_aligned_malloc(4 * n));
  const there = (x: Float64Array) => {
    wasm.HEAPF32.set(x, samples / 4);
    wasm._pffft_transform_ordered(setup, samples, spectrum, work, FORWARD);
  };
  return {
    name: 'pffft-wasm 0.4 (SIMD, single precision)',
    there,
    thereAndBack(x) {
      there(x);
      wasm._pffft_transform_ordered(setup, spectrum, samples, work, BACKWARD);
    },
    result: () => wasm.HEAPF32.slice(samples / 4, samples / 4 + n).map((value) => value / n),
  };
}

/** Best of eight rounds of about 20 ms each: other work on the machine can only slow it. */
function microseconds(work: () => void): number {
  let repeats = 1;
  const round = () => {
    const start = performance.now();
    for (let i = 0; i < repeats; i++) work();
    return performance.now() - start;
  };
  while (round() < 20) repeats *= 2;
  return (1000 * Math.min(...Array.from({ length: 8 }, round))) / repeats;
}
