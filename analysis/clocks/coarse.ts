/**
 * Roughly where one file lies against another. Pieces of the one are sought in the other by their waveforms, both evened
 * out in frequency and in time, so that a neighbour's faint bleed counts as much as a microphone's own strikes: what both
 * heard of one strike is alike sample by sample, and all strikes of a piece agree on one lag. A beat or a turn off the
 * strikes are alike too, but scatter by how steadily the machine plays.
 */
import { padded, RealFourier } from '../numbers/fft.ts';
import type { Run } from '../ports.ts';
import { piece, type FileSound } from './sound.ts';

/** Hz; attacks hold enough below 8 kHz to tell a lag to a tenth of a ms. */
const rate = 16_000;
const fourierLength = 2 ** 18;
/** A piece holds a dozen strikes, and 100 ppm move it by half a ms from end to end. */
const pieceS = 6;
const pieces = 7;
/** Starts farther apart are not sought: it would take longer than the hearing. */
const farthestS = 90;
/** Time over which loudness is evened out, s. */
const evenS = 0.008;
/** An attack counts at most so much more than what went before. */
const mostOver = 6;
/** A tone that dies away in 20 ms is some 16 Hz wide. */
const whiteHz = 4;
/** Peaks kept of each piece; beats and turns off make many. */
const peaks = 40;
/** Peaks of a piece are not nearer, s. */
const apartS = 0.005;
/** Clocks of recorders differ by less: a poor quartz is 100 ppm off, a phone's resampler a little more; common practice, no source. */
export const mostDrift = 400e-6;
/** Pieces are taken from so much of the middle, s: over more, the drift would have to be tried in too many steps. */
const middleS = 300;
/** The same strikers' lags lie so near a straight line over the take, s; a beat off they scatter more. */
const offLineS = 0.0003;
/** Least height of a peak, in rms of the correlation: of two million values of normal noise the highest is about 5.3. */
const leastHeight = 6;
/** Share of the pieces that must agree, two of seven; by chance as many do, but what the strikes say decides. */
const leastShare = 0.25;
/** Lines that the fine comparison is asked about. In 14 simulated rooms the right one was the likeliest in 13 and the second in one; the others are room for worse ones. */
const mostLines = 8;
/** Lines that tell the same: no farther apart than the way between two microphones, there and back, s. */
const sameS = 0.03;

export interface Coarse {
  /** What sounds at `atS` in the one sounds at `atS` + `lagS` in the other, within some ms. */
  readonly atS: number;
  readonly lagS: number;
  /** Of the lag, per second. */
  readonly drift: number;
}

/** @returns the likeliest first; none where the files do not hear each other */
export async function coarseLags(a: FileSound, b: FileSound, run: Run): Promise<Coarse[]> {
  const [lengthA, lengthB] = [a.length / a.sampleRate, b.length / b.sampleRate];
  if (lengthA > lengthB) {
    const turned = await coarseLags(b, a, run);
    return turned.map(({ atS, lagS, drift }) => ({ atS: atS + lagS, lagS: -lagS, drift: -drift }));
  }
  const fourier = new RealFourier(fourierLength);
  const transform = async (sound: FileSound, fromS: number, count: number) =>
    whitened(fourier.forward(padded(even(await piece(sound, fromS, count, rate)), fourierLength)));
  const count = Math.min(Math.round(pieceS * rate), Math.floor(lengthA * rate));
  const spanS = Math.min(middleS, lengthA - count / rate);
  const found: Peak[][] = [];
  const sought: { atS: number; spectrum: Float64Array; peaks: Peak[] }[] = [];
  for (let i = 0; i < pieces; i++) {
    const atS = lengthA / 2 - count / rate / 2 + ((i + 0.5) / pieces - 0.5) * spanS;
    sought.push({ atS, spectrum: await transform(a, atS, count), peaks: [] });
  }
  // Of a block the first lags are whole; the next block begins where they end.
  const whole = fourierLength - count;
  for (let fromS = 0; fromS + count / rate <= lengthB; fromS += whole / rate) {
    run.signal?.throwIfAborted();
    const there = Math.min(fourierLength, Math.floor((lengthB - fromS) * rate));
    const near = sought.filter(({ atS }) => Math.abs(fromS + whole / rate / 2 - atS) <= farthestS);
    if (near.length === 0) continue;
    const block = await transform(b, fromS, there);
    for (const { atS, spectrum, peaks: own } of near) {
      const lags = fourier
        .inverse(product(block, spectrum))
        .subarray(0, Math.min(whole, Math.max(1, there - count + 1)));
      let power = 0;
      for (const v of lags) power += v * v;
      const rms = Math.sqrt(power / lags.length) || 1;
      for (const i of highest(lags))
        own.push({ atS, lagS: fromS + i / rate - atS, height: Math.abs(lags[i]) / rms });
    }
  }
  for (const { peaks: own } of sought) {
    const clear = own.filter(({ height }) => height >= leastHeight);
    found.push(clear.sort((p, q) => q.height - p.height).slice(0, peaks));
  }
  return agreed(found, spanS);
}

interface Peak {
  readonly atS: number;
  readonly lagS: number;
  readonly height: number;
}

/** a·conj(b), bin by bin. */
function product(a: Float64Array, b: Float64Array): Float64Array {
  const out = new Float64Array(a.length);
  for (let k = 0; k < a.length; k += 2) {
    out[k] = a[k] * b[k] + a[k + 1] * b[k + 1];
    out[k + 1] = a[k + 1] * b[k] - a[k] * b[k + 1];
  }
  return out;
}

/** Indices of the highest, of either sign, one at most of each stretch as long as two must be apart. */
function highest(values: Float64Array): number[] {
  const apart = Math.round(apartS * rate);
  const tops: number[] = [];
  for (let from = 0; from < values.length; from += apart) {
    let top = from;
    for (let i = from; i < Math.min(values.length, from + apart); i++)
      if (Math.abs(values[i]) > Math.abs(values[top])) top = i;
    tops.push(top);
  }
  return tops.sort((i, j) => Math.abs(values[j]) - Math.abs(values[i])).slice(0, peaks);
}

interface Line {
  readonly peak: Peak;
  readonly drift: number;
  readonly sum: number;
  readonly share: number;
}

/** The straight lines of lag over time on which most pieces have a peak. */
function agreed(found: readonly (readonly Peak[])[], spanS: number): Coarse[] {
  const step = Math.min(mostDrift, (2 * offLineS) / Math.max(1, spanS / 2));
  const lines: Line[] = [];
  for (const peak of found.flat())
    for (let drift = -mostDrift; drift <= mostDrift; drift += step) {
      const line = lineOf(found, peak, drift);
      if (line.share >= leastShare) lines.push(line);
    }
  lines.sort((p, q) => q.sum - p.sum);
  const best: Line[] = [];
  for (const line of lines) {
    if (best.length >= mostLines) break;
    const isOther = ({ peak, drift }: Line) =>
      Math.abs(line.peak.lagS - peak.lagS - drift * (line.peak.atS - peak.atS)) > sameS;
    if (best.every(isOther)) best.push(line);
  }
  return best.map(({ peak, drift }) => ({ atS: peak.atS, lagS: peak.lagS, drift }));
}

function lineOf(found: readonly (readonly Peak[])[], peak: Peak, drift: number): Line {
  let sum = 0;
  let count = 0;
  for (const own of found) {
    let most = 0;
    for (const { atS, lagS, height } of own)
      if (height > most && Math.abs(lagS - peak.lagS - drift * (atS - peak.atS)) <= offLineS) most = height;
    if (most > 0) count++;
    sum += most;
  }
  return { peak, drift, sum, share: count / found.length };
}

/** The first difference against its rms of just before, cut: attacks stand out, each as loud as every other. */
function even(x: Float64Array): Float64Array {
  const before = Math.round(evenS * rate);
  const sums = new Float64Array(x.length + 1);
  const steps = new Float64Array(x.length);
  for (let i = 1; i < x.length; i++) steps[i] = x[i] - x[i - 1];
  for (let i = 0; i < x.length; i++) sums[i + 1] = sums[i] + steps[i] * steps[i];
  return steps.map((v, i) => {
    const from = Math.max(0, i - before);
    const power = i > from ? (sums[i] - sums[from]) / (i - from) : 0;
    return power > 0 ? Math.max(-mostOver, Math.min(mostOver, v / Math.sqrt(power))) : 0;
  });
}

/** Every frequency as strong as its neighbours, so that what rings gives one peak and not one a period. */
function whitened(spectrum: Float64Array): Float64Array {
  const bins = spectrum.length / 2;
  const sums = new Float64Array(bins + 1);
  for (let k = 0; k < bins; k++) sums[k + 1] = sums[k] + Math.hypot(spectrum[2 * k], spectrum[2 * k + 1]);
  const half = Math.round((whiteHz * fourierLength) / rate);
  for (let k = 0; k < bins; k++) {
    const [from, to] = [Math.max(0, k - half), Math.min(bins, k + half + 1)];
    const mean = (sums[to] - sums[from]) / (to - from);
    if (mean > 0) {
      spectrum[2 * k] /= mean;
      spectrum[2 * k + 1] /= mean;
    }
  }
  return spectrum;
}
