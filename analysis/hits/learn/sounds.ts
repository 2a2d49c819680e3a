/**
 * Sorts clips by how they sound: those that lie on each other are one sound, and their average, each brought to its
 * own time and weighed by its gain, is that sound's template. Nothing is known beforehand; the hits teach themselves.
 */
import { addShifted, coarseFit, maskOf, refineFit, type Alignment, type Mask } from '../signal/align.ts';
import { centredMean } from '../../numbers/centred-mean.ts';
import { median } from '../../numbers/statistics.ts';
import { cumulated, whitened, type Background } from '../signal/background.ts';
import type { Clip, Frame } from '../signal/clip.ts';

export interface Sound {
  /** The average strike in a frame of its own, n samples. */
  readonly template: Float64Array;
  /** The median strike, for what must not be touched by the few in which something else sounds. */
  readonly typical: Float64Array;
  readonly mask: Mask;
  /** Indices into `members` of the clips in which least else sounds. */
  readonly clean: readonly number[];
  /** Sum of the squared gains in the average: what it is less noisy by than a clip. */
  readonly squares: number;
  /** Indices of the clips it was learnt from, and how each lies on it. */
  readonly members: readonly number[];
  readonly fits: readonly Alignment[];
}

/** Likeness (cosine of the angle, background taken off) from which two clips are one sound. Between hits of one striker in other colours 0.85 and more was measured, between unlike drums at most 0.5. */
export const alike = 0.8;
/** What tells sounds apart lies in their first 40 ms, and later strikes come in after. */
const judgedS = 0.04;
/** After so many members a template is good enough to judge by; the polishing uses them all. */
const enoughToJudge = 12;

/** A clip as the sorting sees it, in units of the background; hundreds are in memory at once. */
export interface Weighed {
  readonly clip: Clip;
  /** Energy of its waveform under the background's weights, summed from the start. */
  readonly cumulative: Float64Array;
  /** false where something else is known to sound just before: such a clip does not show where its own sound begins. */
  readonly leadIsQuiet?: boolean;
}

export function weigh({ from, spectrum }: Clip, background: Background, frame: Frame): Weighed {
  return { clip: { from, spectrum }, cumulative: cumulated(whitened(spectrum, background, frame)) };
}

/** Energy of a clip between two samples of its frame, in units of the background's per sample. */
export function energyBetween(weighed: Weighed, from: number, to: number): number {
  const n = weighed.cumulative.length - 1;
  const a = Math.max(0, Math.min(n, Math.round(from)));
  const b = Math.max(0, Math.min(n, Math.round(to)));
  return weighed.cumulative[b] - weighed.cumulative[a];
}

/** Cosine between a clip and a sound laid on it, the background's share taken off both: 1 where they are the same but for gain. */
export function likeness(
  weighed: Weighed,
  fit: Alignment,
  energy: number,
  span: readonly [number, number],
): number {
  const [from, to] = span;
  const heard = energyBetween(weighed, from + fit.delay, to + fit.delay);
  const above = Math.max(heard - (to - from), 0.1 * heard);
  return fit.gain * Math.sqrt(energy / above);
}

interface Growing {
  sum: Float64Array;
  squares: number;
  mask: Mask;
  members: number[];
}

/** Groups of clips that are one sound each, largest first; a clip like no other is a group of its own. */
export function sortBySound(weighed: readonly Weighed[], background: Background, frame: Frame): number[][] {
  const span = [frame.pre - frame.reach, frame.pre + Math.round(judgedS * frame.sampleRate)] as const;
  const groups: Growing[] = [];
  weighed.forEach((item, i) => {
    let best: { group: Growing; fit: Alignment; like: number } | null = null;
    for (const group of groups) {
      const fit = coarseFit(item.clip, group.mask, frame, 0, frame.reach);
      // The template's own noise is in its energy too; it goes down as members come in.
      const noise = (span[1] - span[0]) / group.squares;
      const energy = Math.max(group.mask.energy - noise, 0.1 * group.mask.energy);
      const gain = (fit.gain * group.mask.energy) / energy;
      const like = likeness(item, { ...fit, gain }, energy, span);
      if (like > (best?.like ?? alike)) best = { group, fit, like };
    }
    if (!best) {
      groups.push(
        grow({ sum: new Float64Array(item.clip.spectrum.length), squares: 0, members: [] }, i, item.clip, {
          delay: 0,
          gain: 1,
        }),
      );
      return;
    }
    const { group } = best;
    if (group.members.length >= enoughToJudge) group.members.push(i);
    else grow(group, i, item.clip, refineFit(item.clip, group.mask, frame, best.fit));
  });
  return groups.map((g) => g.members).sort(largestFirst);

  function grow(
    group: Omit<Growing, 'mask'> & { mask?: Mask },
    i: number,
    clip: Clip,
    fit: Alignment,
  ): Growing {
    addShifted(group.sum, clip.spectrum, frame, fit.delay, fit.gain);
    group.squares += fit.gain * fit.gain;
    group.members.push(i);
    const template = average(group.sum, group.squares, frame);
    taper(template, span[0], span[1], frame);
    group.mask = maskOf(frame.fourier.forward(template), background.weight, frame);
    return group as Growing;
  }
}

function average(sum: Float64Array, squares: number, frame: Frame): Float64Array {
  const template = frame.fourier.inverse(sum);
  for (let i = 0; i < template.length; i++) template[i] /= squares;
  return template;
}

/** Sets what lies outside to 0, with flanks of 1 ms at either end so that nothing rings. */
export function taper(x: Float64Array, from: number, to: number, frame: Frame): void {
  const flank = Math.round(0.001 * frame.sampleRate);
  for (let i = 0; i < x.length; i++) {
    const inside = Math.min(i - from, to - i) / flank;
    if (inside <= 0) x[i] = 0;
    else if (inside < 1) x[i] *= 0.5 - 0.5 * Math.cos(Math.PI * inside);
  }
}

const largestFirst = (a: readonly number[], b: readonly number[]) => b.length - a.length || a[0] - b[0];

/**
 * Joins groups whose averages are alike: sorting one after the other splits a sound whose first clips were spoilt by
 * something else.
 */
export function joinAlike(
  groups: readonly (readonly number[])[],
  weighed: readonly Weighed[],
  background: Background,
  frame: Frame,
): Sound[] {
  const sounds: Sound[] = [];
  const span = [frame.pre - frame.reach, frame.pre + Math.round(judgedS * frame.sampleRate)] as const;
  for (const members of groups) {
    const sound = polish(weighed, members, background, frame);
    const short = shortened(sound.template, span, frame);
    const item = weigh({ from: 0, spectrum: frame.fourier.forward(short) }, background, frame);
    const twin = sounds.findIndex((other) => {
      const mask = maskOf(
        frame.fourier.forward(shortened(other.template, span, frame)),
        background.weight,
        frame,
      );
      // Further than hits may lie: what is one sound some way later is its clips' late moments.
      const fit = coarseFit(item.clip, mask, frame, 0, 2 * frame.reach);
      return fit.gain * Math.sqrt(mask.energy / energyBetween(item, 0, frame.n)) > alikeAverages;
    });
    if (twin === -1) sounds.push(sound);
    else if (members.length >= 2)
      sounds[twin] = polish(weighed, [...sounds[twin].members, ...members], background, frame);
  }
  return sounds;
}

/** Averages have less noise than clips and less of other strikes in them; still 0.8 and more was measured for one sound in two groups. */
const alikeAverages = 0.75;

function shortened(template: Float64Array, span: readonly [number, number], frame: Frame): Float64Array {
  const short = Float64Array.from(template);
  taper(short, span[0], span[1], frame);
  return short;
}

/** Rounds of aligning to the average and averaging anew; the third changes nothing that can be measured. */
const rounds = 3;
/** From the second round on the average is of those clips that are most like it: half of them, but no fewer than this if there are. */
const fewestClean = 8;
/** Clips of which the middle one is taken at each instant. */
const mostTypical = 31;

/** The template of one group: its clips on each other to a fraction of a sample. */
export function polish(
  weighed: readonly Weighed[],
  members: readonly number[],
  background: Background,
  frame: Frame,
): Sound {
  const span = [
    frame.pre - frame.reach,
    frame.n - frame.reach - Math.round(0.002 * frame.sampleRate),
  ] as const;
  const clips = members.map((i) => weighed[i].clip);
  let template = frame.fourier.inverse(clips[0].spectrum);
  taper(template, span[0], span[1], frame);
  let spectrum = frame.fourier.forward(template);
  let mask = maskOf(spectrum, background.weight, frame);
  let fits: Alignment[] = clips.map((clip) => coarseFit(clip, mask, frame, 0, frame.reach));
  // Around their middle, so that none has to be shifted far: what a shift pushes out of the window comes in at its other end.
  const centre = Math.round(median(fits.map(({ delay }) => delay)));
  const centred = new Float64Array(spectrum.length);
  addShifted(centred, mask.weighted, frame, -centre, 1);
  mask = { ...mask, weighted: centred };
  fits = fits.map(({ delay, gain }) => ({ delay: delay - centre, gain }));
  let raw: Float64Array = template;
  let clean = [...members.keys()];
  let squares = 0;
  const noise = span[1] - span[0];
  for (let round = 0; round < rounds; round++) {
    fits = clips.map((clip, m) => refineFit(clip, mask, frame, fits[m]));
    if (round > 0)
      clean = cleanest(
        members.map((i) => weighed[i]),
        fits,
        mask,
        span,
      );
    const sum = new Float64Array(2 * frame.fourier.bins);
    squares = 0;
    for (const m of clean) {
      if (!(fits[m].gain > 0)) continue;
      addShifted(sum, clips[m].spectrum, frame, fits[m].delay, fits[m].gain);
      squares += fits[m].gain ** 2;
    }
    if (squares === 0) break;
    raw = average(sum, squares, frame);
    template = Float64Array.from(raw);
    taper(template, span[0], span[1], frame);
    spectrum = frame.fourier.forward(template);
    quieten(spectrum, background.weight, noise / squares);
    mask = maskOf(spectrum, background.weight, frame);
  }
  const told = clean.filter((m) => weighed[members[m]].leadIsQuiet !== false);
  const quiet = withQuietLead(
    told.length > 0 ? told : clean,
    (m) => ({ weighed: weighed[members[m]], fit: fits[m] }),
    template,
    frame,
  );
  const typical = middle(
    quiet.slice(0, mostTypical).map((m) => ({ clip: clips[m], fit: fits[m] })),
    frame,
  );
  return { template: raw, typical, mask, members, fits, squares, clean };
}

/** A sound rises from where it begins to this share of its peak in what is looked at here as its attack. */
const risen = 0.3;
/** Before that it is looked for what else sounds: from and to, s. */
const elseFromS = 0.005;
const elseToS = 0.001;
/** What has so many times the energy of the quietest quarter is not quiet: the background's own varies by a tenth. */
const unquiet = 1.5;

/** Of some strikes those before which nothing else sounds: where another's bleed begins, a sound would seem to. */
function withQuietLead(
  strikes: readonly number[],
  of: (strike: number) => { readonly weighed: Weighed; readonly fit: Alignment },
  template: Float64Array,
  { sampleRate }: Frame,
): readonly number[] {
  const peak = template.reduce((top, x) => Math.max(top, Math.abs(x)), 0);
  const rise = template.findIndex((x) => Math.abs(x) > risen * peak);
  const energies = strikes.map((strike) => {
    const { weighed, fit } = of(strike);
    const at = rise + fit.delay;
    return energyBetween(weighed, at - elseFromS * sampleRate, at - elseToS * sampleRate);
  });
  const quarter = [...energies].sort((a, b) => a - b)[(strikes.length - 1) >> 2];
  return strikes.filter((_, i) => energies[i] <= unquiet * quarter);
}

/** Those most like the template over all its length: nothing else sounds in them. */
function cleanest(
  weighed: readonly Weighed[],
  fits: readonly Alignment[],
  mask: Mask,
  span: readonly [number, number],
): number[] {
  const like = weighed.map((item, m) => likeness(item, fits[m], mask.energy, span));
  const order = [...like.keys()].sort((a, b) => like[b] - like[a] || a - b);
  return order.slice(0, Math.max(fewestClean, Math.ceil(order.length / 2)));
}

/** At each instant the median of the clips, each at its own gain and time: what happens in fewer than half of them leaves no trace. */
function middle(parts: readonly { clip: Clip; fit: Alignment }[], frame: Frame): Float64Array {
  const laid = parts
    .filter(({ fit }) => fit.gain > 0)
    .map(({ clip, fit }) => {
      const shifted = new Float64Array(clip.spectrum.length);
      addShifted(shifted, clip.spectrum, frame, fit.delay, 1 / fit.gain);
      return frame.fourier.inverse(shifted);
    });
  const out = new Float64Array(frame.n);
  const values = new Float64Array(laid.length);
  const half = laid.length >> 1;
  for (let i = 0; i < frame.n; i++) {
    for (let m = 0; m < laid.length; m++) values[m] = laid[m][i];
    values.sort();
    out[i] = laid.length % 2 ? values[half] : (values[half - 1] + values[half]) / 2 || 0;
  }
  return out;
}

/** Bins either side over which a sound's power is averaged to see whether it stands out of an average's noise. */
const smoothBins = 6;

/**
 * Takes the background that is left in an average out of its spectrum (Wiener's gain, from the power averaged over
 * neighbouring bins): where the sound is fainter than what is left, a strike would be laid on its own noise.
 *
 * @param noise power of what is left in each bin, in units of the background's
 */
export function quieten(spectrum: Float64Array, weight: Float64Array, noise: number): void {
  const power = weight.map((w, k) => w * (spectrum[2 * k] ** 2 + spectrum[2 * k + 1] ** 2));
  centredMean(power, smoothBins).forEach((mean, k) => {
    const share = mean > 0 ? Math.max(0, 1 - (2 * noise) / mean) : 0;
    spectrum[2 * k] *= share;
    spectrum[2 * k + 1] *= share;
  });
}
