/** What a plan takes out of tolerance, and what is not proposed because it would, in sentences. */
import { signedMs } from '../words/names.ts';
import { worstMeanMs, type Belief } from './belief.ts';
import { leavingWith, type Leaving } from './leaving.ts';
import { changesWords, placeWords } from './place-words.ts';
import type { SparingPlan } from './sparing.ts';

/** Groups that the plan takes out of tolerance: no plan may do that in silence. */
export function leavingWords(belief: Belief, { settings }: SparingPlan): string[] {
  const leaving = leavingWith(belief, settings);
  if (leaving.length === 0) return [];
  const rows = leaving.map(
    ({ g, beforeMs, afterMs }) =>
      `${placeWords(belief, g)} (${signedMs(beforeMs)} → ${signedMs(afterMs)} ms)`,
  );
  const more = rows.length > MOST_NAMED ? ` and ${rows.length - MOST_NAMED} more` : '';
  return [`It takes ${rows.slice(0, MOST_NAMED).join(', ')}${more} out of tolerance, for what it brings in.`];
}

const MOST_NAMED = 3;

/** Means that are printed alike are no better. */
const WORTH_SAYING_MS = 0.1;

/** The settings that would leave the least worst lateness, with what they would spoil, where others are proposed for that. */
export function notProposedWords(belief: Belief, { settings, least, aside }: SparingPlan): string[] {
  // What is set aside is said to stand in the way of the rest.
  if (aside.length > 0 && belief.groups.every(({ tune, bpm }) => tune === undefined && bpm === undefined))
    return [];
  const lost = leavingWith(belief, least);
  const leastMs = worstMeanMs(belief, least);
  if (lost.length === 0 || worstMeanMs(belief, settings) - leastMs < WORTH_SAYING_MS) return [];
  return [
    `The worst${ofAll(belief)} could come to ${leastMs.toFixed(1)} ms (${changesWords(belief, least, settings)}), but that takes ${lostWords(belief, lost)} out of tolerance, so it is not proposed.`,
  ];
}

function ofAll({ groups }: Belief): string {
  const tunes = groups.some(({ tune }) => tune !== groups[0].tune);
  const tempi = groups.some(({ bpm }) => bpm !== groups[0].bpm);
  return tunes ? ' of all tunes' : tempi ? ' over all tempi' : '';
}

function lostWords(belief: Belief, lost: readonly Leaving[]): string {
  const more = lost.length > 1 ? ` and ${lost.length - 1} more` : '';
  return `${placeWords(belief, lost[0].g)}${more}`;
}
