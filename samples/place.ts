/**
 * Adds sounds to tracks at exact times, between samples where it must be. A sound is interpolated with a sinc under a
 * Kaiser window (Kaiser 1974), which is exact to −100 dB for what it holds below 0.9 of the Nyquist frequency;
 * `bandLimited` first takes away what lies above. Measured in tests/samples/place.test.ts.
 */

/** A short recording of one strike. */
export interface Sound {
  readonly name: string;
  readonly samples: Float32Array;
  /** Hz */
  readonly sampleRate: number;
  /** Where it starts to sound, in samples: the first above 1 % of the peak, in the recording as it was before any filter. */
  readonly onset: number;
}

/** Taps either side of an interpolated point. With `kaiserBeta` this gives 100 dB up to 0.9 of Nyquist. */
const halfWidth = 32;
const kaiserBeta = 10;
/**
 * Where `bandLimited` has half amplitude, as a fraction of Nyquist; its skirt runs from 0.54 to 0.86. A steeper one would
 * ring before a sharp attack: at 64 taps a side a snare's ringing rises above 1 % of its peak 0.23 ms early, here 0.09.
 */
const bandEdge = 0.7;
const bandHalfWidth = 20;
/** The onset of a clean recording is its first sample above this fraction of its peak. */
const onsetFraction = 0.01;

/** Adds `gain` times the sound so that its onset falls on `onsetS`. What falls outside the track is lost. */
export function place(track: Float32Array, sampleRate: number, sound: Sound, onsetS: number, gain = 1): void {
  const placed = atFraction(sound, sampleRate, onsetS);
  mix(track, placed.samples, placed.from, gain);
}

/** A sound whose place between samples is settled: it can be mixed into several tracks at whole-sample delays. */
export interface Placed {
  readonly samples: Float32Array;
  /** Index in the track of its first sample; may be negative. */
  readonly from: number;
}

/** The sound as it is sampled when its onset falls on `onsetS`. */
export function atFraction(sound: Sound, sampleRate: number, onsetS: number): Placed {
  if (sound.sampleRate !== sampleRate)
    throw new RangeError(`${sound.name} is at ${sound.sampleRate} Hz, the track at ${sampleRate} Hz`);
  const start = onsetS * sampleRate - sound.onset;
  const whole = Math.floor(start);
  const fraction = start - whole;
  if (fraction === 0) return { samples: sound.samples, from: whole };
  // out[n] = Σ x[k]·h(n − fraction − k): one set of taps for the whole sound.
  const taps = tapsAt(fraction);
  return { samples: convolve(sound.samples, taps), from: whole - halfWidth + 1 };
}

/** Adds `gain` times the samples, the first at index `from`. */
export function mix(track: Float32Array, samples: Float32Array, from: number, gain: number): void {
  const first = Math.max(0, -from);
  const last = Math.min(samples.length, track.length - from);
  for (let i = first; i < last; i++) track[from + i] += gain * samples[i];
}

/**
 * The sound without what lies above 0.9 of its Nyquist frequency. Its onset stays where the recording had it: a filter's ringing
 * before a sharp attack is not the strike.
 */
export function bandLimited(sound: Sound): Sound {
  const taps = Float64Array.from({ length: 2 * bandHalfWidth + 1 }, (_, j) => {
    const x = j - bandHalfWidth;
    return bandEdge * windowedSinc(bandEdge * x, bandEdge * (bandHalfWidth + 1), kaiserBeta);
  });
  return { ...sound, samples: convolve(sound.samples, taps), onset: sound.onset + bandHalfWidth };
}

/**
 * The sound at a rate no lower than its own.
 *
 * @throws RangeError where the rate is lower: that would need a filter, and nothing here asks for it
 */
export function resampled(sound: Sound, sampleRate: number): Sound {
  if (sampleRate === sound.sampleRate) return sound;
  if (sampleRate < sound.sampleRate)
    throw new RangeError(`${sound.name}: ${sampleRate} Hz is below its own rate`);
  const ratio = sound.sampleRate / sampleRate;
  const { samples } = sound;
  const lead = Math.ceil(halfWidth / ratio);
  const out = new Float32Array(Math.ceil(samples.length / ratio) + 2 * lead);
  // The place between source samples comes round again after at most `sampleRate` outputs: 160 for 44.1 to 48 kHz.
  const phases = new Map<number, Float64Array>();
  for (let n = 0; n < out.length; n++) {
    const position = (n - lead) * sound.sampleRate;
    const whole = Math.floor(position / sampleRate);
    const phase = position - whole * sampleRate;
    let taps = phases.get(phase);
    if (!taps) phases.set(phase, (taps = tapsAt(-phase / sampleRate)));
    let sum = 0;
    for (let j = 0; j < taps.length; j++) {
      const k = whole - (j - halfWidth + 1);
      if (k >= 0 && k < samples.length) sum += samples[k] * taps[j];
    }
    out[n] = sum;
  }
  return { ...sound, samples: out, sampleRate, onset: lead + sound.onset / ratio };
}

/** A sound whose onset is measured: the first sample above 1 % of the peak. */
export function soundFrom(name: string, samples: Float32Array, sampleRate: number): Sound {
  return { name, samples, sampleRate, onset: firstAbove(samples, onsetFraction) };
}

/** Index of the first sample above this fraction of the peak; the length where all is silence. */
export function firstAbove(samples: Float32Array, fraction: number): number {
  let peak = 0;
  for (const x of samples) peak = Math.max(peak, Math.abs(x));
  const found = peak === 0 ? -1 : samples.findIndex((x) => Math.abs(x) > fraction * peak);
  return found === -1 ? samples.length : found;
}

/** Full convolution: out[n] = Σ x[n − j]·taps[j], of length x + taps − 1. */
export function convolve(x: Float32Array, taps: Float64Array): Float32Array {
  const out = new Float64Array(x.length + taps.length - 1);
  // Four taps at a time, the last samples kept at hand: four times fewer passes over memory than one tap at a time.
  for (let j = 0; j < taps.length; j += 4) {
    const t0 = taps[j];
    const t1 = taps[j + 1] ?? 0;
    const t2 = taps[j + 2] ?? 0;
    const t3 = taps[j + 3] ?? 0;
    let x1 = 0;
    let x2 = 0;
    let x3 = 0;
    const last = Math.min(x.length + 3, out.length - j);
    for (let i = 0; i < last; i++) {
      const x0 = i < x.length ? x[i] : 0;
      out[i + j] += t0 * x0 + t1 * x1 + t2 * x2 + t3 * x3;
      x3 = x2;
      x2 = x1;
      x1 = x0;
    }
  }
  return Float32Array.from(out);
}

/** h(j − fraction) for j from 1 − halfWidth to halfWidth: the taps that delay by a fraction of a sample, between −1 and 1. */
function tapsAt(fraction: number): Float64Array {
  return Float64Array.from({ length: 2 * halfWidth }, (_, j) =>
    windowedSinc(j - halfWidth + 1 - fraction, halfWidth, kaiserBeta),
  );
}

function windowedSinc(x: number, half: number, beta: number): number {
  const r = x / half;
  if (Math.abs(r) >= 1) return 0;
  const window = besselI0(beta * Math.sqrt(1 - r * r)) / besselI0(beta);
  return x === 0 ? window : (window * Math.sin(Math.PI * x)) / (Math.PI * x);
}

/** Modified Bessel function of order 0 by its power series Σ ((x/2)^k / k!)²: converges fast for x ≤ 20. */
function besselI0(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; term > 1e-17 * sum; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}
