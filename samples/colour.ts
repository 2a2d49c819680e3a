/**
 * Makes two strikes of one striker sound a little different, as wear, angle and temperature do: a first-order shelf
 * (bright or dull) and one broad resonance, each by a random number of dB. Filters after R. Bristow-Johnson,
 * "Cookbook formulae for audio EQ biquad filter coefficients" (W3C note 2021), and the bilinear first-order shelf.
 */
import type { Random } from './random.ts';
import type { Sound } from './place.ts';

export interface ColourRange {
  /** Shelf above `shelfHz`: uniform within ± this. */
  readonly shelfDb: number;
  /** Resonance of Q 1 at a frequency drawn from `resonanceHz`: uniform within ± this. */
  readonly resonanceDb: number;
  readonly shelfHz: number;
  readonly resonanceHz: readonly [number, number];
  /**
   * 'minimum': as a body colours its sound, after the fact; it also delays a little, differently each time.
   * 'zero': colour without any delay, half forwards and half backwards in time.
   */
  readonly phase: 'minimum' | 'zero';
}

/** Of the order of what hit-to-hit differences of mallets show: heard at once side by side, no more. Common practice, no source. */
export const usualColour: ColourRange = {
  shelfDb: 2,
  resonanceDb: 2,
  shelfHz: 3000,
  resonanceHz: [300, 6000],
  phase: 'minimum',
};

/** The sound in another colour. Its onset keeps its place: it is where the strike was, coloured or not. */
export function coloured(sound: Sound, random: Random, range: ColourRange = usualColour): Sound {
  const shelfDb = random.between(-range.shelfDb, range.shelfDb);
  const resonanceDb = random.between(-range.resonanceDb, range.resonanceDb);
  const [low, high] = range.resonanceHz;
  const resonanceHz = low * (high / low) ** random.uniform();
  const share = range.phase === 'zero' ? 0.5 : 1;
  const filters = [
    shelf(sound.sampleRate, range.shelfHz, share * shelfDb),
    resonance(sound.sampleRate, resonanceHz, share * resonanceDb),
  ];
  let samples = Float64Array.from(sound.samples);
  for (const filter of filters) samples = run(filter, samples);
  if (range.phase === 'zero') {
    samples.reverse();
    for (const filter of filters) samples = run(filter, samples);
    samples.reverse();
  }
  return { ...sound, samples: Float32Array.from(samples) };
}

/** b0 + b1 z⁻¹ + b2 z⁻² over 1 + a1 z⁻¹ + a2 z⁻². */
type Filter = readonly [b0: number, b1: number, b2: number, a1: number, a2: number];

function shelf(rate: number, hz: number, db: number): Filter {
  // H(s) = (1 + s·√g/ω) / (1 + s/(√g·ω)): gain 1 at 0, g far above.
  const root = 10 ** (db / 40);
  const k = 1 / Math.tan((Math.PI * hz) / rate);
  const a0 = 1 + k / root;
  return [(1 + k * root) / a0, (1 - k * root) / a0, 0, (1 - k / root) / a0, 0];
}

function resonance(rate: number, hz: number, db: number, q = 1): Filter {
  const a = 10 ** (db / 40);
  const w = (2 * Math.PI * hz) / rate;
  const alpha = Math.sin(w) / (2 * q);
  const a0 = 1 + alpha / a;
  const cos = -2 * Math.cos(w);
  return [(1 + alpha * a) / a0, cos / a0, (1 - alpha * a) / a0, cos / a0, (1 - alpha / a) / a0];
}

function run([b0, b1, b2, a1, a2]: Filter, x: Float64Array): Float64Array<ArrayBuffer> {
  const y = new Float64Array(x.length);
  let s1 = 0;
  let s2 = 0;
  for (let i = 0; i < x.length; i++) {
    const out = b0 * x[i] + s1;
    s1 = b1 * x[i] - a1 * out + s2;
    s2 = b2 * x[i] - a2 * out;
    y[i] = out;
  }
  return y;
}
