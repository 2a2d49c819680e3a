/**
 * Where a sound begins: its first arrival, the first instant above 1 % of its peak. It is sought in the average of
 * many strikes, where the background has sunk by the root of their number, and it is the same for every strike of
 * that sound: so channels with quick and with slow attacks are late or early by the same clock.
 */
import { centredMean } from '../../numbers/centred-mean.ts';
import type { Background } from '../signal/background.ts';
import { leastSampleRate, type Frame } from '../signal/clip.ts';

/** By definition of this project: the onset of a clean recording is its first sample above this share of its peak. */
export const onsetShare = 0.01;
/** A background's rms is passed 5.5 times once in 26 million samples: never, in windows of some hundred. */
export const surelyRms = 5.5;
/** Longest time from a sound's beginning to the moment at which the first pass heard it, s. */
const attackS = 0.016;
/** At the window's edge the clips that were shifted most show what came in from the other end. */
const edgeS = 0.003;
/** Half-width of the widest smoothing, s: it makes an onset early by as much at most. */
const mostBlurS = 0.0003;
/** What stands out and is then silent again for longer than this, s, is not of the attack that follows. */
const silentS = 0.003;

/**
 * @param template average strike, n samples of the frame
 * @returns the onset as a fractional index into it, and its standard deviation in samples
 */
export function firstArrival(
  template: Float64Array,
  background: Background,
  frame: Frame,
): { readonly at: number; readonly sd: number } {
  const quietTo = frame.pre - Math.round(attackS * frame.sampleRate);
  const until = frame.n - frame.reach;
  const quietFrom = Math.round(edgeS * frame.sampleRate);
  const silent = silentS * frame.sampleRate;
  const seen = (x: Float64Array) => seenIn(x, quietFrom, quietTo, until, silent);
  let best = seen(template);
  // Smoothed no more than the background asks for: every doubling costs its own width in sharpness.
  for (let half = 2; best.threshold > onsetShare && half <= mostBlurS * frame.sampleRate; half *= 2)
    best = better(best, seen(smoothed(template, half)));
  // What rings on from earlier strikes is foreseeable: a filter that takes it out leaves the new attack standing. The
  // filter looks only back, so it moves nothing earlier.
  if (best.threshold > 2 * onsetShare) best = better(best, seen(filtered(template, background.whitener)));
  const before = struckUnseenS(best.threshold) * frame.sampleRate;
  const sd = Math.max(sdOf(best), unseenSd * unseenIn(template, best, frame), before);
  return { at: best.at, sd: frame.sampleRate < leastSampleRate ? Math.hypot(sd, ringingSd) : sd };
}

/**
 * At a low rate an attack reaches up to where the recorder's filter cuts, and rings before it begins. Standard deviation of a
 * beginning then, samples: of struck sounds at 8 kHz the means lay up to 6.7 samples early.
 */
const ringingSd = 4;

/**
 * A struck thing sounds a little before it sounds loud: root mean square of how much later than at 1 % of its peak each of 28
 * real recordings of percussion passes such a share of it, s. Where other strikers hide the beginning, nothing of that is
 * seen: of six before one microphone one began 0.58 ms after it was said to be known to 0.02. Up to 5 % the rise itself tells.
 */
const struckUnseen = [
  { share: 0.05, s: 0 },
  { share: 0.1, s: 0.00037 },
  { share: 0.2, s: 0.0005 },
  { share: 0.3, s: 0.00062 },
  { share: 0.5, s: 0.00083 },
] as const;

function struckUnseenS(threshold: number): number {
  const above = struckUnseen.findIndex(({ share }) => share > threshold);
  if (above === 0) return 0;
  if (above < 0) return struckUnseen[struckUnseen.length - 1].s;
  const [a, b] = [struckUnseen[above - 1], struckUnseen[above]];
  return a.s + ((threshold - a.share) / (b.share - a.share)) * (b.s - a.s);
}

/** A sound's swell is followed over this, s: longer than a swing of 250 Hz, and than most beating within one. */
const swellS = 0.004;
/** Level below the peak up to which the attack is measured, as an amplitude: −6 dB. */
const attackShare = 0.5;
/**
 * A swell goes on beyond what is seen of it, and how long it rises is not to be told, where its power in the last third is so
 * many times that in the third before (a line has 2.5 times, a square 6, one that is over no more than it beats); or where it
 * is loudest in the last quarter and took so much of the whole to −6 dB (an exponential twice as long takes a third).
 */
const stillRising = 2;
const lastQuarter = 0.75;
const slowToRise = 1 / 3;
/** A rise is continued below the threshold by at most this many times the length of it that is seen. */
const longestUnseen = 10;

/**
 * Standard deviation of a beginning, as a multiple of the continued length (`unseenIn`): of 72 swells of 10 to 40 ms at 34 to 50 dB below their peaks 59 then
 * began within their 95 % intervals, 36 by the first doubling alone; in the others a beat parts the beginning from the rest.
 */
const unseenSd = 1.6;

/**
 * How long a slow sound may have sounded before it was seen, samples: the time in which it rises to −6 dB, continued below the
 * threshold as a square, the gentlest beginning that is usual. Its waveform's own first doubling says nothing of that,
 * since a swing or a beat of its tones doubles it at once.
 */
function unseenIn(template: Float64Array, { at, threshold }: Seen, { sampleRate, reach }: Frame): number {
  const half = Math.round((swellS * sampleRate) / 2);
  const power = centredMean(
    template.map((x) => x * x),
    half,
  );
  // So that what is there holds only what came after the sound was seen.
  const from = Math.max(0, Math.floor(at)) + half;
  let peakAt = from;
  for (let i = from; i < template.length; i++) if (power[i] > power[peakAt]) peakAt = i;
  let first = from;
  while (first < peakAt && power[first] < attackShare ** 2 * power[peakAt]) first++;
  const begins = Math.max(threshold, Math.sqrt(power[from] / power[peakAt]));
  const rise = (first - from) / Math.max(1 / longestUnseen, Math.sqrt(attackShare / begins) - 1);
  const unseen = rise * (Math.sqrt(threshold / begins) - Math.sqrt(onsetShare / begins));
  const until = template.length - reach;
  const seen = until - from;
  const third = seen / 3;
  const powerIn = (k: number) =>
    power
      .subarray(Math.round(from + k * third), Math.round(from + (k + 1) * third))
      .reduce((a, b) => a + b, 0);
  const isLate = peakAt - from > lastQuarter * seen && first - from > slowToRise * seen;
  const stillRises = first - from > half && (isLate || powerIn(2) > stillRising * powerIn(1));
  return stillRises ? Math.max(unseen, seen) : unseen;
}

/**
 * The sound rises from the threshold to twice the threshold in a time that the template shows. What of it lies below the
 * threshold is not seen: it began earlier by about that time, less where the threshold is near 1 % (a linear rise); and the
 * background moves the crossing by its share of the threshold.
 */
function sdOf({ at, doubledAt, threshold, noise }: Seen): number {
  const rise = Math.max(resolution, doubledAt - at);
  return rise * Math.hypot(1 - onsetShare / threshold, noise / threshold);
}

/** A crossing between two samples is known to a part of their distance, samples. */
const resolution = 0.5;

interface Seen {
  readonly at: number;
  /** Where twice the threshold is first reached. */
  readonly doubledAt: number;
  /** Root mean square of what is there before it, as a share of the peak. */
  readonly noise: number;
  /** Of the peak; 1 % where the background allows. */
  readonly threshold: number;
}

/** A lower threshold is nearer to the definition. */
function better(a: Seen, b: Seen): Seen {
  return b.threshold < 0.7 * a.threshold ? b : a;
}

function seenIn(x: Float64Array, from: number, quietTo: number, until: number, silent: number): Seen {
  const noise = rms(x.subarray(from, quietTo));
  const peakAt = peakIndex(x, quietTo, until);
  const peak = Math.abs(x[peakAt]);
  const threshold = Math.max(onsetShare, (surelyRms * noise) / peak);
  const at = crossing(x, quietTo, peakAt, threshold * peak, silent);
  const doubledAt = crossing(x, Math.max(quietTo, Math.floor(at)), peakAt, 2 * threshold * peak, silent);
  return { at, doubledAt, threshold, noise: noise / peak };
}

/** Back from the peak to the earliest crossing that no silence parts from it, between samples. */
export function crossing(
  x: Float64Array,
  quietTo: number,
  peakAt: number,
  threshold: number,
  silent: number,
): number {
  let first = peakAt;
  for (let i = peakAt - 1; i >= quietTo && first - i <= silent; i--)
    if (Math.abs(x[i]) > threshold) first = i;
  const below = Math.abs(x[first - 1]);
  const above = Math.abs(x[first]);
  return above > below && below <= threshold ? first - (above - threshold) / (above - below) : first;
}

/** Convolution with a triangle of this half-width. */
function smoothed(x: Float64Array, half: number): Float64Array {
  const out = new Float64Array(x.length);
  const total = half * half;
  for (let i = half; i < x.length - half; i++) {
    let sum = 0;
    for (let j = 1 - half; j < half; j++) sum += (half - Math.abs(j)) * x[i + j];
    out[i] = sum / total;
  }
  return out;
}

function filtered(x: Float64Array, taps: Float64Array): Float64Array {
  const out = new Float64Array(x.length);
  for (let i = taps.length; i < x.length; i++)
    for (let k = 0; k < taps.length; k++) out[i] += taps[k] * x[i - k];
  return out;
}

function rms(x: Float64Array): number {
  let sum = 0;
  for (const v of x) sum += v * v;
  return x.length === 0 ? 0 : Math.sqrt(sum / x.length);
}

function peakIndex(x: Float64Array, from: number, to: number): number {
  let best = from;
  for (let i = from; i < to; i++) if (Math.abs(x[i]) > Math.abs(x[best])) best = i;
  return best;
}
