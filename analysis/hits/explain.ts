/**
 * Explains a clip as a sum of known voices at times between samples: the voice that takes most of the energy first,
 * then what is left again (matching pursuit: Mallat & Zhang 1993), all refined against each other at the end. What no
 * voice is like stays unexplained.
 */
import { refineFit, type Fit } from './align.ts';
import { fitByAttack } from './attack.ts';
import type { Background } from './background.ts';
import type { Clip, Frame } from './clip.ts';
import { addColoured, posterior, project } from './colour.ts';
import { likeness, weigh, type Weighed } from './sounds.ts';
import type { Voice } from './voice.ts';

export interface Part {
  /** Index of the voice. */
  readonly voice: number;
  readonly fit: Fit;
  /** Cosine between what the others leave of the clip and this voice. */
  readonly like: number;
  /** What the others leave of the clip. */
  readonly rest: Weighed;
}

/** Strikes within one clip's reach that can be told apart. */
const mostParts = 3;
/** Two strikes that nearly coincide are each spoilt by the other. */
const alikeAtAll = 0.7;
/** What the pattern says of a voice at a moment: the time, s, at which it is due, or that it is not; null where nobody asked. */
export type Expectation = number | 'astray' | 'never' | null;

/** Where the pattern has a pin, less will do; where it has none, no less than a clean strike. */
const alikeWhereDue = 0.4;
const alikeWhereNot = 0.8;
/** A strike so like its voice is that and nothing else: −15 dB of another colour, or of another sound, leave it so. */
const alikeThroughout = 0.985;
/** A second voice must be like what the first leaves, and that is never clean: the first one's colour is in it. */
const alikeInRest = 0.6;
/**
 * So near to when it is due a fainter likeness will do, s: sectors' lateness is known by then, and pins lie less far off.
 * Further off a drum's next swing fits nearly as well as its first where something else sounds too.
 */
const closeS = 0.006;
/** Least energy of a part, in units of the background's per sample: passed by chance once in 10^12. */
const leastEnergy = 50;
const judgedS = 0.04;

export function explain(
  clip: Clip,
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
  expected: (voice: number) => Expectation = () => null,
): Part[] {
  let parts: Part[] = [];
  let rest = weigh(clip, background, frame);
  while (parts.length < mostParts && parts.length < voices.length) {
    const next = bestVoice(rest, voices, frame, parts, expected);
    if (!next) break;
    parts.push({ ...next, fit: refineFit(rest.clip, voices[next.voice].mask, frame, next.fit), rest });
    if (parts.length > 1) parts = settle(clip, parts, voices, background, frame);
    // Most strikes are alone and clean: nothing else is looked for in what they leave.
    const throughout = parts.some(({ like }) => like >= alikeThroughout);
    const more = voices.some((_, v) => {
      const due = expected(v);
      return due !== 'never' && !(due === 'astray' && throughout) && parts.every(({ voice }) => voice !== v);
    });
    if (!more) break;
    rest = without(clip, parts, voices, background, frame);
  }
  return parts;
}

interface Best {
  readonly voice: number;
  readonly fit: Fit;
  readonly like: number;
}

function bestVoice(
  rest: Weighed,
  voices: readonly Voice[],
  frame: Frame,
  taken: readonly Part[],
  expected: (voice: number) => Expectation,
) {
  let best: Best | null = null;
  let most = leastEnergy;
  const consider = (v: number, around: number, reach: number, least: number): boolean => {
    const voice = voices[v];
    const fit = fitByAttack(rest, voice, frame, around, reach);
    const energy = fit.gain ** 2 * voice.mask.energy;
    if (!(fit.gain > 0) || energy <= leastEnergy) return false;
    const like = likeTo(rest, voice, fit, frame);
    if (like < least) return false;
    if (energy > most) {
      most = energy;
      best = { voice: v, fit, like };
    }
    return true;
  };
  const astray: number[] = [];
  voices.forEach((voice, v) => {
    if (taken.some((part) => part.voice === v)) return;
    const due = expected(v);
    if (due === 'never') return;
    if (due === null) consider(v, 0, frame.reach, taken.length === 0 ? alikeAtAll : alikeInRest);
    else if (due === 'astray') astray.push(v);
    else {
      const around = due * frame.sampleRate - rest.clip.from - voice.onset;
      const far = Math.abs(around) > frame.reach;
      const close = !far && consider(v, around, closeS * frame.sampleRate, alikeWhereDue);
      if (!close && taken.length === 0) consider(v, 0, frame.reach, alikeWhereNot);
    }
  });
  // What is due and explains all but a trace leaves nothing for what is not due.
  const likes = [...taken, ...(best ? [best as Best] : [])].map(({ like }) => like);
  if (Math.max(0, ...likes) < alikeThroughout)
    for (const v of astray) consider(v, 0, frame.reach, alikeWhereNot);
  return best as Best | null;
}

function likeTo(rest: Weighed, voice: Voice, fit: Fit, frame: Frame): number {
  const from = Math.floor(voice.onset);
  const to = Math.min(voice.span[1], from + Math.round(judgedS * frame.sampleRate));
  const energy = voice.cumulative[to] - voice.cumulative[from];
  return likeness(rest, fit, energy, [from, to]);
}

/** Each part once more against what the others leave. */
function settle(
  clip: Clip,
  parts: readonly Part[],
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
): Part[] {
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
      const fit = refineFit(rest.clip, voices[part.voice].mask, frame, part.fit);
      settled[i] = { voice: part.voice, fit, like: likeTo(rest, voices[part.voice], fit, frame), rest };
    });
  return settled;
}

function without(
  clip: Clip,
  parts: readonly Part[],
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
): Weighed {
  const spectrum = Float64Array.from(clip.spectrum);
  for (const { voice, fit, rest } of parts) {
    const { palette, spread, spectrum: sound } = voices[voice];
    // In its own colour: what is left of a loud strike in another colour would hide a faint one.
    const products = project(rest.clip.spectrum, palette, frame, fit.delay);
    const { amplitudes, delay } = posterior(palette, spread, { products, gain: fit.gain, misfit: 1 });
    addColoured(spectrum, sound, amplitudes, frame, fit.delay + Math.max(-2, Math.min(2, delay)), -fit.gain);
  }
  return weigh({ ...clip, spectrum }, background, frame);
}
