/**
 * How a sound that swells goes, from before it begins until it has died away: longer than a frame, which sees but some of
 * its rise, and another part of it at every strike. Where it is known when it is due, all that sounds on the track is one
 * sum of templates at known times, and they are solved together (tails.ts); each strike is then laid on the template over
 * all its length (matched filter: Kay 1998 §4.3), and the template solved again.
 */
import { mean, median } from '../../numbers/statistics.ts';
import { correlated, padded, RealFourier } from '../../numbers/fft.ts';
import type { Scene } from '../context.ts';
import { readSamples } from '../signal/clip.ts';
import { solveTails } from './tails.ts';
import { addVoice, silentVoice, soundsUntil, type Struck, type Voice } from './voice.ts';

/** The template begins so long before the sound is due, s: a channel lies up to 60 ms off, and quiet is needed before that. */
const leadS = 0.16;
/** Of that, what is surely before the sound, s. */
export const quietS = 0.09;
/** A template's length, s: a second of swell, and enough of the ring after it. */
const lengthS = 2;
/** Rounds of laying the strikes on the template and solving it anew; after the second they move by less than a sample. */
const rounds = 3;
/** Strikes from which the template is learnt: it is then 20 dB above what a single one holds of the background. */
const lessons = 96;
/** Strikes of one channel lie within this of each other, s: sectors and pins; and of where they were laid on what they were much like. */
const reachS = 0.025;
const settledReachS = 0.004;
const settledLike = 0.95;
/** A strike fainter than this share of the usual one is none, −12 dB: where the pattern ends the ring of the last was taken for one more. */
export const faintest = 0.25;
/** Over so much about a strike's place, s, it is looked how much what else sounds could move it. */
const besideS = 0.1;

/** A strike laid on the template. */
export interface Laid extends Struck {
  /** Standard deviation of `at`, samples. */
  readonly sd: number;
  /** Cosine between the strike, all else taken off, and the template. */
  readonly like: number;
}

export interface LearntSwell {
  /** From `leadS` before the sound is due. */
  readonly wave: Float64Array;
  readonly strikes: readonly Laid[];
}

/**
 * @param scene its voices are what else sounds on the track
 * @param others their strikes
 * @param dueAt samples of the track at which the sound is due, ascending
 */
export async function learnSwell(
  scene: Scene,
  others: readonly Struck[],
  dueAt: readonly number[],
): Promise<LearntSwell | null> {
  const { frame } = scene;
  const own = scene.voices.length;
  const length = Math.round(lengthS * frame.sampleRate);
  const lead = Math.round(leadS * frame.sampleRate);
  const fourier = new RealFourier(2 ** Math.ceil(Math.log2(length + 4 * besideS * frame.sampleRate)));
  const taught = dueAt.slice(0, lessons);
  const until = taught[taught.length - 1];
  const heard = others.filter(({ at }) => at < until);
  const asDue = (all: readonly number[]): Laid[] =>
    all.map((at) => ({ voice: own, at: at - lead, gain: 1, sd: NaN, like: 0 }));
  let strikes: readonly Laid[] = asDue(taught);
  let voices: readonly Voice[] = [...scene.voices, silentVoice([1, length], frame)];
  let wave = await loneliest(scene, others, strikes, length);
  for (let round = 0; round < rounds; round++) {
    strikes = await laid({ ...scene, voices }, { others: heard, own: strikes, wave, fourier });
    const usual = median(strikes.map(({ gain }) => gain));
    if (!(usual > 0)) return null;
    strikes = strikes.map((strike) => ({ ...strike, gain: strike.gain / usual }));
    if (round === 0) strikes = centred(strikes, taught, lead);
    const struck = [...heard, ...strikes.filter(({ gain }) => gain > faintest)].sort((x, y) => x.at - y.at);
    const before = voices.map((_, v) => new Float64Array(v === own ? length : 3 * frame.n));
    const { uncut } = await solveTails({ ...scene, voices }, [struck], { before });
    voices = voices.map((voice, v) => ({ ...voice, tail: uncut[v] }));
    wave = uncut[own];
  }
  if (taught.length < dueAt.length)
    // Twice: each is laid where its neighbours still lie as they are due.
    strikes = await laid({ ...scene, voices }, { others, own: asDue(dueAt), wave, fourier });
  return {
    wave,
    strikes: await laid({ ...scene, voices }, { others, own: strikes, wave, fourier, last: true }),
  };
}

/** So that the strikes lie about where they are due. */
function centred(strikes: readonly Laid[], dueAt: readonly number[], lead: number): Laid[] {
  const later = median(strikes.map(({ at }, i) => at + lead - dueAt[i]));
  return strikes.map((strike) => ({ ...strike, at: strike.at - later }));
}

/** To begin with: the strike that has most room to itself, until the next. */
async function loneliest(
  scene: Scene,
  others: readonly Struck[],
  own: readonly Struck[],
  length: number,
): Promise<Float64Array> {
  const gap = (i: number) =>
    i < 0 || i + 1 >= own.length ? length : Math.min(length, own[i + 1].at - own[i].at);
  let best = 0;
  own.forEach((_, i) => {
    if (gap(i - 1) + gap(i) > gap(best - 1) + gap(best)) best = i;
  });
  const from = Math.round(own[best].at);
  const heard = await without(scene, others, from, from + length);
  const until = gap(best);
  const flank = Math.round(0.02 * scene.frame.sampleRate);
  return heard.map((x, i) => x * Math.max(0, Math.min(1, (until - i) / flank)));
}

/** Samples of the track without what these strikes sound in them. */
async function without(
  { track, voices, frame }: Scene,
  strikes: readonly Struck[],
  from: number,
  to: number,
): Promise<Float64Array> {
  const left = await readSamples(track, from, to);
  const constant = mean(left);
  for (let i = 0; i < left.length; i++) left[i] -= constant;
  for (const { voice, at, gain } of strikes)
    if (at < to && at + soundsUntil(voices[voice]) > from)
      addVoice(left, voices[voice], frame, at - from, -gain);
  return left;
}

/** Each strike laid on the wave, all others taken off, those before it where they were laid just now. */
async function laid(
  scene: Scene,
  {
    others,
    own,
    wave,
    fourier,
    last = false,
  }: {
    readonly others: readonly Struck[];
    readonly own: readonly Laid[];
    readonly wave: Float64Array;
    readonly fourier: RealFourier;
    /** Whether how well each place is known is asked for. */
    readonly last?: boolean;
  },
): Promise<Laid[]> {
  const { sampleRate } = scene.frame;
  const beside = Math.round(besideS * sampleRate);
  const template = fourier.forward(padded(wave, fourier.n));
  const energy = wave.reduce((sum, x) => sum + x * x, 0);
  const slopeEnergy = wave.reduce((sum, x, i) => sum + (i === 0 ? 0 : (x - wave[i - 1]) ** 2), 0);
  // What is left is laid on the template too: how steep its correlation runs is how far it can move a strike.
  const steepness = (rest: Float64Array, at: number, gain: number) => {
    const left = padded(rest, fourier.n);
    for (let i = 0; i < wave.length; i++) left[at + i] -= gain * wave[i];
    const r = correlated(fourier.forward(left), template, fourier);
    let sum = 0;
    for (let d = 1; d <= 2 * beside; d++) sum += (r[d] - r[d - 1]) ** 2;
    return Math.sqrt(sum / (2 * beside));
  };
  const found = [...own];
  for (const [k, strike] of own.entries()) {
    const from = Math.round(strike.at) - beside;
    const rest = await without(
      scene,
      [...others, ...found.filter((_, o) => o !== k)],
      from,
      from + wave.length + 2 * beside,
    );
    const c = correlated(fourier.forward(padded(rest, fourier.n)), template, fourier);
    const reach = Math.round((strike.like < settledLike ? reachS : settledReachS) * sampleRate);
    let top = beside;
    for (let d = beside - reach; d <= beside + reach; d++) if (c[d] > c[top]) top = d;
    const bend = c[top - 1] + c[top + 1] - 2 * c[top];
    const shift = bend < 0 ? Math.max(-0.5, Math.min(0.5, (c[top - 1] - c[top + 1]) / (2 * bend))) : 0;
    const gain = c[top] / energy;
    const heard = rest.subarray(top, top + wave.length).reduce((sum, x) => sum + x * x, 0);
    found[k] = {
      voice: strike.voice,
      at: from + top + shift,
      gain,
      sd: last ? steepness(rest, top, gain) / (Math.abs(gain) * slopeEnergy) : NaN,
      like: (gain * Math.sqrt(energy)) / Math.sqrt(heard),
    };
  }
  return found;
}
