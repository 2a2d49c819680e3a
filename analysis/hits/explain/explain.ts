/**
 * Explains a clip as a sum of known voices at times between samples: the voice that takes most of the energy first,
 * then what is left again (matching pursuit: Mallat & Zhang 1993), all refined against each other at the end. What no
 * voice is like stays unexplained.
 */
import type { Scene } from '../context.ts';
import { refineFit, type Alignment } from '../signal/align.ts';
import { fitByAttack, type Unexplained } from './attack.ts';
import { cumulated, whitened, type Background } from '../signal/background.ts';
import type { Clip, Frame } from '../signal/clip.ts';
import { addColoured, posterior, project } from '../signal/colour.ts';
import { energyBetween, likeness, type Weighed } from '../learn/sounds.ts';
import type { Voice } from '../learn/voice.ts';

/** What is not explained yet. */
type Remainder = Unexplained & Weighed;

export interface ExplainedPart {
  /** Index of the voice. */
  readonly voice: number;
  readonly fit: Alignment;
  /** Cosine between what the others leave of the clip and this voice. */
  readonly like: number;
  /** What the others leave of the clip. */
  readonly rest: Remainder;
}

/** Strikes looked for in one clip even where fewer are due: a strike, its rebound, and one of another channel's misplaced pin. */
const fewestParts = 3;
/** Least cosine of the first strike found where nothing is expected; low, since strikes that nearly coincide distort each other. */
const alikeAtAll = 0.7;
/**
 * What the pattern says of a voice at a moment: the time, s, at which it is due near there; 'astray', not due but possible (a
 * misplaced pin); 'never', not to be looked for; null, no pattern to go by.
 */
export type Expectation = number | 'astray' | 'never' | null;

/**
 * Least cosine where the pattern has a pin. Each of m equally strong, mutually unlike strikes has a cosine of 1/√m with their
 * sum: 0.4 is that of six; where more are due at once the limit is lowered accordingly.
 */
const alikeWhereDue = 0.4;
const dueForThat = 6;
/** Least cosine where the pattern has no pin: that of a clean strike. */
const alikeWhereNot = 0.8;
/** From this cosine on a clip holds that strike alone: a residual of −15 dB, of colour or of another sound, still reaches it. */
const alikeThroughout = 0.985;
/**
 * Greatest likeness where nothing is due. `likeness` divides by the energy that is in the clip where the voice lies: above 1 there
 * is less energy than the fitted voice would have brought, so it is not there.
 */
const alikeAtMost = 1.2;
/** Far from its due time, though within reach, a strike is accepted only from this cosine on. */
const alikeFarOff = 0.9;
/** Least cosine of a further strike with what the first leaves, which is never clean: the first one's colour is in it. */
const alikeInRest = 0.6;
/**
 * Within this of its due time, s, `alikeWhereDue` suffices: sectors' lateness is known by then, and pins lie less far off.
 * Farther off, a drum's second oscillation fits nearly as well as its first where something else sounds too.
 */
const closeS = 0.006;
/** Least gain of a further strike, of its usual one (−12 dB): fainter ones are residues of the first one's colour. */
const faintBeside = 0.25;
/** Least energy of a part, in units of the background's per sample: passed by chance once in 10^12. */
const leastEnergy = 50;
/** Length over which likeness is judged, s: what follows is often the next strike. */
const judgedS = 0.04;
/** One period of 250 Hz, s. Of lower tones the right period is told by when they are due. */
const swingS = 0.004;

export function explain(
  clip: Clip,
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
  expected: (voice: number) => Expectation = () => null,
): ExplainedPart[] {
  const whole = unexplained(clip, background, frame);
  const sounds = { voices, background, frame };
  const { parts, rest } = pursue(whole, sounds, expected);
  // Where strikes overlap the order of removal is a guess: a loud voice fitted one period off can hide another.
  const near = voices.flatMap((voice, v) =>
    voice.envelope === null && isNear(expected(v), voice, clip, frame) ? [v] : [],
  );
  if (near.length < 2 || near.every((v) => parts.some(({ voice }) => voice === v))) return parts;
  let best = parts;
  let least = energyBetween(rest ?? without(clip, parts, voices, background, frame), 0, frame.n);
  for (const first of near) {
    if (first === parts[0]?.voice) continue;
    const other = pursue(whole, sounds, expected, first);
    if (other.parts.length <= best.length) continue;
    const left = energyBetween(
      other.rest ?? without(clip, other.parts, voices, background, frame),
      0,
      frame.n,
    );
    if (left < least) [best, least] = [other.parts, left];
  }
  return best;
}

/** How many voices are due within a clip's reach. */
function dueNear(
  clip: Clip,
  voices: readonly Voice[],
  frame: Frame,
  expected: (voice: number) => Expectation,
): number {
  return voices.filter((voice, v) => voice.envelope === null && isNear(expected(v), voice, clip, frame))
    .length;
}

/** Whether a voice is due within a clip's reach. */
function isNear(due: Expectation, { onset }: Voice, { from }: Clip, { sampleRate, reach }: Frame): boolean {
  return typeof due === 'number' && Math.abs(due * sampleRate - from - onset) <= reach;
}

/**
 * Takes voices off one after another, the one with the most energy first, or the one given.
 *
 * @returns `rest` null where it was not worked out
 */
function pursue(
  whole: Remainder,
  { voices, background, frame }: Pick<Scene, 'voices' | 'background' | 'frame'>,
  expected: (voice: number) => Expectation,
  first?: number,
): { parts: ExplainedPart[]; rest: Remainder | null } {
  let parts: ExplainedPart[] = [];
  let rest = whole;
  // As many as are due, whatever their number; each taken off leaves the others clearer.
  const due = dueNear(whole.clip, voices, frame, expected);
  const mostParts = Math.min(voices.length, Math.max(fewestParts, due));
  while (parts.length < mostParts) {
    const only = parts.length === 0 && first !== undefined;
    const next = bestVoice(
      rest,
      voices,
      frame,
      parts,
      only ? (v) => (v === first ? expected(v) : 'never') : expected,
    );
    if (!next) return { parts, rest };
    parts.push({ ...next, fit: refineFit(rest.clip, voices[next.voice].mask, frame, next.fit), rest });
    if (parts.length > 1) parts = settle(whole.clip, parts, voices, background, frame);
    // Most strikes are alone and clean: nothing else is looked for in what they leave.
    const throughout = parts.some(({ like }) => like >= alikeThroughout);
    const more = voices.some((_, v) => {
      const due = expected(v);
      return due !== 'never' && !(due === 'astray' && throughout) && parts.every(({ voice }) => voice !== v);
    });
    if (!more) return { parts, rest: null };
    rest = without(whole.clip, parts, voices, background, frame);
  }
  return { parts, rest };
}

interface Best {
  readonly voice: number;
  readonly fit: Alignment;
  readonly like: number;
}

function bestVoice(
  rest: Remainder,
  voices: readonly Voice[],
  frame: Frame,
  taken: readonly ExplainedPart[],
  expected: (voice: number) => Expectation,
) {
  let best: Best | null = null;
  let most = leastEnergy;
  const consider = (
    v: number,
    around: number,
    reach: number,
    least: number,
    greatest = Infinity,
  ): boolean => {
    const voice = voices[v];
    const fit = fitByAttack(rest, voice, frame, around, reach);
    const energy = fit.gain ** 2 * voice.mask.energy;
    if (!(fit.gain > 0) || energy <= leastEnergy) return false;
    if (taken.length > 0 && fit.gain < faintBeside) return false;
    const like = likeTo(rest, voice, fit, frame);
    if (like < least || like > greatest) return false;
    if (energy > most) {
      most = energy;
      best = { voice: v, fit, like };
    }
    return true;
  };
  const likeWhereDue =
    alikeWhereDue * Math.min(1, Math.sqrt(dueForThat / dueNear(rest.clip, voices, frame, expected)));
  const astray: number[] = [];
  voices.forEach((voice, v) => {
    if (voice.envelope !== null || taken.some((part) => part.voice === v)) return;
    const due = expected(v);
    if (due === 'never') return;
    if (due === null) consider(v, 0, frame.reach, taken.length === 0 ? alikeAtAll : alikeInRest);
    else if (due === 'astray') astray.push(v);
    else {
      const around = due * frame.sampleRate - rest.clip.from - voice.onset;
      const close =
        isNear(due, voice, rest.clip, frame) && consider(v, around, closeS * frame.sampleRate, likeWhereDue);
      if (!close && taken.length === 0) consider(v, 0, frame.reach, alikeFarOff);
    }
  });
  // Where a due strike explains nearly all of the clip, nothing that is not due is looked for.
  const likes = [...taken, ...(best ? [best as Best] : [])].map(({ like }) => like);
  if (Math.max(0, ...likes) < alikeThroughout)
    for (const v of astray) consider(v, 0, frame.reach, alikeWhereNot, alikeAtMost);
  return best as Best | null;
}

function likeTo(rest: Weighed, voice: Voice, fit: Alignment, frame: Frame): number {
  const from = Math.floor(voice.onset);
  const to = Math.min(voice.span[1], from + Math.round(judgedS * frame.sampleRate));
  const energy = voice.cumulative[to] - voice.cumulative[from];
  return likeness(rest, fit, energy, [from, to]);
}

/** Each part once more against what the others leave. */
function settle(
  clip: Clip,
  parts: readonly ExplainedPart[],
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
): ExplainedPart[] {
  const settled = [...parts];
  for (let round = 0; round < 2; round++)
    settled.forEach((part, i) => {
      const rest = without(
        clip,
        settled.filter((_, j) => j !== i),
        voices,
        background,
        frame,
      );
      // The others gone, its attack stands free: it may have been laid a swing aside.
      const near =
        round === 0
          ? fitByAttack(
              rest,
              voices[part.voice],
              frame,
              Math.round(part.fit.delay),
              swingS * frame.sampleRate,
            )
          : part.fit;
      const fit = refineFit(rest.clip, voices[part.voice].mask, frame, near);
      settled[i] = { voice: part.voice, fit, like: likeTo(rest, voices[part.voice], fit, frame), rest };
    });
  return settled;
}

function without(
  clip: Clip,
  parts: readonly ExplainedPart[],
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
): Remainder {
  const spectrum = Float64Array.from(clip.spectrum);
  for (const { voice, fit, rest } of parts) {
    const { palette, spread, spectrum: sound } = voices[voice];
    // In its own colour: what is left of a loud strike in another colour would hide a faint one.
    const products = project(rest.clip.spectrum, palette, frame, fit.delay);
    const { amplitudes, delay } = posterior(palette, spread, { products, gain: fit.gain, misfit: 1 });
    addColoured(spectrum, sound, frame, {
      amplitudes,
      delay: fit.delay + Math.max(-2, Math.min(2, delay)),
      gain: -fit.gain,
    });
  }
  return unexplained({ from: clip.from, spectrum }, background, frame);
}

function unexplained({ from, spectrum }: Clip, background: Background, frame: Frame): Remainder {
  const white = whitened(spectrum, background, frame);
  return { clip: { from, spectrum }, white, cumulative: cumulated(white), correlations: new Map() };
}
