/**
 * Which strikes of one track are kept as they come out of the explaining, and why the others are not. Every filter of
 * hearing gives back what it rejects with its reason, so that a person can ask why a moment was no hit.
 */
import type { Strike } from '../explain/strike.ts';
import { grouped } from '../../numbers/grouped.ts';
import { median } from '../../numbers/statistics.ts';

/** Why something that sounded is no hit, in the words a person reads. */
export const rejections = {
  unexplained: 'like no sound that was learnt here',
  'not clear': 'did not stand clear of the background or of what rang before',
  faint: 'far fainter than its channel’s usual strikes: what another sound has in common with it',
  'same strike': 'part of a louder strike of the same channel beside it',
  'before its strike': 'a swing of the strike that follows where the channel is due',
  'nothing due': 'faint, and nothing of its channel is due there',
  'not repeated': 'where nothing is due, in a room with much else, and in no other turn',
  bleed: 'another track heard it louder',
  nobody: 'a sound that is no channel’s',
} as const;

export type Rejection = keyof typeof rejections;

export interface Rejected {
  readonly strike: Strike;
  readonly why: Rejection;
}

export interface Selected {
  readonly kept: readonly Strike[];
  readonly rejected: readonly Rejected[];
}

/** Parts strikes by a test. */
export function selected(
  strikes: readonly Strike[],
  why: Rejection,
  keeps: (strike: Strike, i: number) => boolean,
): Selected {
  const kept: Strike[] = [];
  const rejected: Rejected[] = [];
  strikes.forEach((strike, i) => {
    if (keeps(strike, i)) kept.push(strike);
    else rejected.push({ strike, why });
  });
  return { kept, rejected };
}

/** 30 dB below the voice's usual strike is what another sound has in common with it. */
const faintest = 0.03;

export function loudEnough(strikes: readonly Strike[], voices: number): Selected {
  const byVoice = grouped(strikes, ({ voice }) => voice);
  const usual = Array.from({ length: voices }, (_, v) => {
    const own = byVoice.get(v);
    return own ? median(own.map(({ gain }) => gain)) : 0;
  });
  return selected(strikes, 'faint', ({ gain, voice }) => gain >= faintest * usual[voice]);
}

/** Two sounds of one voice nearer than this are one strike that two moments told of, s. */
const sameStrikeS = 0.008;

/** Ascending, and of strikes of one voice that nearly coincide the strongest: the other is what taking that one off has left. */
export function onceEach(strikes: readonly Strike[]): Selected {
  const inOrder = (a: Strike, b: Strike) => a.timeS - b.timeS || a.voice - b.voice;
  const kept: Strike[] = [];
  const rejected: Rejected[] = [];
  for (const strike of [...strikes].sort(inOrder)) {
    const twin = kept.findLastIndex((k) => k.voice === strike.voice && strike.timeS - k.timeS < sameStrikeS);
    if (twin === -1) {
      kept.push(strike);
      continue;
    }
    const [stronger, weaker] = strike.gain > kept[twin].gain ? [strike, kept[twin]] : [kept[twin], strike];
    kept[twin] = stronger;
    rejected.push({ strike: weaker, why: 'same strike' });
  }
  return { kept: kept.sort(inOrder), rejected };
}
