/** A sound made ready to hear by: trimmed to where it sounds, with its onset and how much its strikes vary. */
import { Matrix } from 'ml-matrix';
import { addShifted, layOn, maskOf, refineFit, type Alignment, type Mask } from '../signal/align.ts';
import type { Envelope } from './envelope.ts';
import { firstArrival } from './arrival.ts';
import { cumulated, whitened, type Background } from '../signal/background.ts';
import type { Frame } from '../signal/clip.ts';
import { learnSpread, paletteOf, posterior, project, type Palette } from '../signal/colour.ts';
import { quieten, taper, type Sound, type Weighed } from './sounds.ts';
import { weightBeside } from './unexplained.ts';

export interface Voice {
  readonly spectrum: Float64Array;
  /** Under the background's weights: tells whether it sounds. */
  readonly mask: Mask;
  /** Under the weights of all that sounds besides it: tells when. The same as `mask` where only the background does. */
  readonly clock: Mask;
  /** Under the clock's weights. */
  readonly palette: Palette;
  /** Standard deviation of its colours' amplitudes from strike to strike. */
  readonly spread: number;
  /** Index in the frame, between samples, at which it begins. */
  readonly onset: number;
  /** Standard deviation of the onset, samples; NaN where it is not known. */
  readonly onsetSd: number;
  /** Where in the frame it sounds. */
  readonly span: readonly [number, number];
  /** Its waveform under the background's weights, and that waveform's energy summed from the frame's start. */
  readonly white: Float64Array;
  readonly cumulative: Float64Array;
  /** Strikes it was learnt from. */
  readonly count: number;
  /** What it still sounds after `span`, an array in the frame's own time that begins with zeros; null where nothing. */
  readonly tail: Float64Array | null;
  /** Peak of the template for a gain of 1, full scale 1. */
  readonly peak: number;
  /** What repeats of a sound whose waveform does not; its waveform is then zero. null where the waveform repeats. */
  readonly envelope: Envelope | null;
}

/** A voice without a waveform, to be filled by what its tail holds. @param span where in the frame it sounds */
export function silentVoice(span: readonly [number, number], frame: Frame): Voice {
  const nothing: Mask = {
    weighted: new Float64Array(2 * frame.fourier.bins),
    energy: 0,
    slopeEnergy: 0,
    bins: 0,
  };
  return {
    spectrum: new Float64Array(2 * frame.fourier.bins),
    mask: nothing,
    clock: nothing,
    palette: { weighted: new Float64Array(0), bases: 2, bins: 0, gram: new Matrix(2, 2) },
    spread: 0,
    onset: frame.pre,
    onsetSd: NaN,
    span,
    white: new Float64Array(frame.n),
    cumulative: new Float64Array(frame.n + 1),
    count: 0,
    tail: null,
    peak: 0,
    envelope: null,
  };
}

/** A voice of which only the envelope repeats. @param peak of a usual strike, full scale 1 */
export function voiceFromEnvelope(envelope: Envelope, peak: number, frame: Frame): Voice {
  return {
    ...silentVoice([frame.pre, Math.min(frame.n, frame.pre + envelope.lasts * envelope.hop)], frame),
    onsetSd: envelope.onsetSd * envelope.hop,
    count: envelope.count,
    peak,
    envelope,
  };
}

/** Lessons enough to settle one number. */
const lessonsForSpread = 48;
/** Before the onset the template is only what is left of the background. */
const leadS = 0.001;

/** An onset found anew this near the earlier one, s, replaces it: so small a change is a refinement. */
const sameOnsetS = 0.0005;
/**
 * Two onsets further apart than this, s, are not of one attack: one of them is of an earlier sound, and the sharper of the two
 * (`jump`) is taken.
 */
const otherSoundS = 0.003;
/** Within one attack the power ratio of `jump` varies some tenfold; the new onset replaces the old one where its is so many times greater. */
const muchSharper = 30;

/** @param before the same channel's voice as it was learnt before, with less else in it or with more */
export function voiceOf(
  sound: Sound,
  weighed: readonly Weighed[],
  background: Background,
  frame: Frame,
  before?: Voice,
): Voice {
  const { at: arrival, sd } = firstArrival(sound.typical, background, frame);
  const known = before ? onsetBy(before, sound, frame) : arrival;
  const apartS = Math.abs(arrival - known) / frame.sampleRate;
  const sharper = jump(sound.typical, arrival, frame) / jump(sound.typical, known, frame);
  const told = apartS <= sameOnsetS || sharper > (apartS > otherSoundS ? 1 : muchSharper);
  const onset = told ? arrival : known;
  return voiceFromWaveform(sound.template, background, frame, {
    onset,
    onsetSd: told || before === undefined ? sd : before.onsetSd,
    count: sound.members.length,
    squares: sound.squares,
    weightBeside: (spectrum, mask) => weightBeside(sound, weighed, { spectrum, mask }, background, frame),
    spread: (clock, palette) => {
      const lessons = sound.clean.slice(0, lessonsForSpread).map((m) => {
        const { clip } = weighed[sound.members[m]];
        const fit = refineFit(clip, clock, frame, sound.fits[m]);
        return { products: project(clip.spectrum, palette, frame, fit.delay), gain: fit.gain, misfit: 1 };
      });
      return learnSpread(
        palette,
        lessons.filter((lesson) => lesson.gain > 0),
      );
    },
  });
}

/**
 * A voice from a waveform and its onset.
 *
 * @param squares where the waveform is an average, the sum of its strikes' squared gains: what is left of the background
 *   in it is taken out
 */
export function voiceFromWaveform(
  waveform: Float64Array,
  background: Background,
  frame: Frame,
  {
    onset,
    onsetSd,
    count,
    squares,
    weightBeside = () => null,
    spread,
  }: {
    readonly onset: number;
    readonly onsetSd: number;
    readonly count: number;
    readonly squares?: number;
    /** Weights of all that sounds besides it; null where that is the background alone. */
    readonly weightBeside?: (spectrum: Float64Array, mask: Mask) => Float64Array | null;
    readonly spread: (clock: Mask, palette: Palette) => number;
  },
): Voice {
  const span = [
    Math.floor(onset - leadS * frame.sampleRate),
    frame.n - frame.reach - Math.round(0.002 * frame.sampleRate),
  ] as const;
  const template = Float64Array.from(waveform);
  taper(template, span[0], span[1], frame);
  const spectrum = frame.fourier.forward(template);
  if (squares !== undefined) quieten(spectrum, background.weight, (span[1] - span[0]) / squares);
  const mask = maskOf(spectrum, background.weight, frame);
  const weight = weightBeside(spectrum, mask);
  const clock = weight === null ? mask : maskOf(spectrum, weight, frame);
  const palette = paletteOf(spectrum, weight ?? background.weight, clock.bins, frame);
  const white = whitened(spectrum, background, frame);
  return {
    spectrum,
    mask,
    clock,
    palette,
    spread: spread(clock, palette),
    onset,
    onsetSd,
    span,
    white,
    cumulative: cumulated(white),
    count,
    tail: null,
    peak: template.reduce((top, x) => Math.max(top, Math.abs(x)), 0),
    envelope: null,
  };
}

/** A strike's own attack against what rang before it, s. */
const attackS = 0.0015;
const ringS = 0.006;
const gapS = 0.0003;

/** How many times as strong a sound is just after an instant as it was before. */
export function jump(x: Float64Array, at: number, { sampleRate }: Frame): number {
  const power = (fromS: number, toS: number) => {
    const [from, to] = [fromS, toS].map((s) => Math.max(0, Math.round(at + s * sampleRate)));
    let sum = 0;
    for (let i = from; i < to && i < x.length; i++) sum += x[i] * x[i];
    return sum / Math.max(1, to - from);
  };
  return power(0, attackS) / Math.max(power(-ringS, -gapS), Number.MIN_VALUE);
}

/** Where a sound begins by laying it on a voice whose onset is known. */
function onsetBy(voice: Voice, { template }: Sound, frame: Frame): number {
  return voice.onset + layOn(template, voice.mask, frame).delay;
}

/**
 * How a voice lies on another: samples by which it lies later in its frame, and the cosine between the two at that place.
 *
 * @param apart where given, their onsets lie so many samples apart at most
 */
export function laidOn(
  voice: Voice,
  { mask, onset }: Pick<Voice, 'mask' | 'onset'>,
  frame: Frame,
  apart?: number,
): { readonly delay: number; readonly like: number } {
  const around = apart === undefined ? 0 : voice.onset - onset;
  const { delay, gain } = layOn(frame.fourier.inverse(voice.spectrum), mask, frame, around, apart);
  return { delay, like: gain * Math.sqrt(mask.energy / voice.mask.energy) };
}

/**
 * Adds `gain` times a voice to samples, where it begins `at` samples after the frame's own start: between samples, and
 * only what falls inside.
 */
export function addVoice(samples: Float64Array, voice: Voice, frame: Frame, at: number, gain: number): void {
  const whole = Math.floor(at);
  if (whole < samples.length && whole + voice.span[1] > 0) {
    const shifted = new Float64Array(voice.spectrum.length);
    addShifted(shifted, voice.spectrum, frame, whole - at, gain);
    const sound = frame.fourier.inverse(shifted);
    const to = Math.min(samples.length, whole + frame.n);
    for (let i = Math.max(0, whole); i < to; i++) samples[i] += sound[i - whole];
  }
  const { tail } = voice;
  if (!tail) return;
  // Between samples by a straight line, as it was learnt: what rings long is slow.
  const fraction = at - whole;
  const to = Math.min(samples.length, whole + tail.length);
  for (let i = Math.max(0, whole + voice.span[0]); i < to; i++) {
    const t = i - whole;
    samples[i] += gain * ((1 - fraction) * tail[t] + (t > 0 ? fraction * tail[t - 1] : 0));
  }
}

/** Index in the frame's time after which nothing of a voice sounds. */
export function soundsUntil(voice: Voice): number {
  return Math.max(voice.span[1], voice.tail?.length ?? 0);
}

/** A strike of a voice, as far as it is needed to take its sound off a track. */
export interface Struck {
  /** Index of the voice. */
  readonly voice: number;
  /** Sample of the track, fractional, at which the voice's frame starts. */
  readonly at: number;
  readonly gain: number;
}

/** A strike's exact place in its clip. */
export interface Timed {
  /** Samples by which it lies later than the voice does in its own frame. */
  readonly delay: number;
  /** Its standard deviation: background, colour and what neither explains. */
  readonly delaySd: number;
  readonly gain: number;
}

/** Judged over the first 40 ms: what follows is often the next strike. */
const judgedS = 0.04;
/** Two steps leave less than a thousandth of the standard deviation. */
const steps = 2;

/** Fits delay, gain and colour together, from a delay that is right to a sample or two. */
export function timeStrike(weighed: Weighed, voice: Voice, frame: Frame, from: Alignment): Timed {
  const { clip, cumulative } = weighed;
  const { mask, clock, palette, spread } = voice;
  const fit = refineFit(clip, clock, frame, from);
  let { delay } = fit;
  let found = { delay: 0, delayVariance: Infinity, explained: 0 };
  let misfit = 1;
  const start = Math.floor(voice.onset);
  const end = Math.min(voice.span[1], start + Math.round(judgedS * frame.sampleRate));
  for (let i = 0; i < steps; i++) {
    const products = project(clip.spectrum, palette, frame, delay);
    found = posterior(palette, spread, { products, gain: fit.gain, misfit });
    // What sounds besides the voice is in its clock's weights where there is more than the background.
    if (i === 0 && clock === mask) {
      const heard = between(cumulative, start + delay, end + delay);
      const own = fit.gain ** 2 * between(voice.cumulative, start, end);
      misfit = Math.max(1, (heard - own - found.explained) / (end - start));
      found = posterior(palette, spread, { products, gain: fit.gain, misfit });
    }
    delay += Math.max(-2, Math.min(2, found.delay));
  }
  return { delay, delaySd: Math.sqrt(found.delayVariance), gain: fit.gain };
}

function between(cumulative: Float64Array, from: number, to: number): number {
  const n = cumulative.length - 1;
  const clamp = (x: number) => Math.max(0, Math.min(n, Math.round(x)));
  return cumulative[clamp(to)] - cumulative[clamp(from)];
}
