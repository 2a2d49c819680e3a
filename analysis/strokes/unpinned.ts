/**
 * Whether pattern and take agree at all. A bounce, a burr or a weak feed makes a few strokes without a pin and a few pins without
 * a stroke; where they are most of what is heard and due, the pattern is another's, or its pins are not entered yet, and whatever
 * it seems to fit by is chance.
 */
import type { Machine } from '../machine/machine.ts';
import { misplacedPinReason, noPinReason } from './lay.ts';
import type { Strokes } from './strokes.ts';

/** Of the channels that have pins and were heard; the reference and a recorded click are left out. */
export interface Disagreement {
  readonly hits: number;
  /** Of them, those that lie at no pin; a bounce is none. */
  readonly without: number;
  /** Strokes that were due while their channel was still heard, and those heard: together. */
  readonly all: number;
  /** Of them, strokes heard at their own pins. */
  readonly agree: number;
}

/** Of fewer hits no share is told. */
const fewestHits = 12;
/** With every stroke heard twice half of the hits have no pin; more no striker makes. */
const mostWithout = 0.5;
/** With a third of the strokes missing, and as many heard that have no pin, half of all agree. */
const leastAgreed = 0.5;
/** So soon after its stroke a striker may bounce, s, and no more often. Common practice, no source. */
const bounceS = 0.25;
const mostBounces = 2;

const known = new WeakMap<Strokes, Disagreement | null>();

/** null where pattern and take agree well enough, or there is too little to tell. Worked out once for strokes. */
export function disagreement(strokes: Strokes, machine: Machine): Disagreement | null {
  let found = known.get(strokes);
  if (found === undefined) {
    found = strokes.rotation.found ? counted(strokes, machine) : null;
    known.set(strokes, found);
  }
  return found;
}

function counted(strokes: Strokes, { description, reference, pins }: Machine): Disagreement | null {
  const { hits, step, why } = strokes;
  const click = description.channels.findIndex(({ id }) => id === description.click);
  const pinned = new Set(pins.map(({ channel }) => channel));
  const isJudged = (channel: number) => channel !== reference && channel !== click && pinned.has(channel);
  /** By channel: when it was heard last, and how often since a stroke at a pin. */
  const last = new Map<number, { timeS: number; bounces: number }>();
  let [own, without, astray] = [0, 0, 0];
  const inOrder = [...hits.timeS.keys()].sort((a, b) => hits.timeS[a] - hits.timeS[b]);
  for (const i of inOrder) {
    const channel = hits.channel[i];
    // Others are set aside for reasons of their own.
    if (!isJudged(channel) || (step[i] < 0 && why[i] !== noPinReason)) continue;
    const timeS = hits.timeS[i];
    const before = last.get(channel);
    const follows = before !== undefined && timeS - before.timeS <= bounceS && before.bounces < mostBounces;
    if (step[i] < 0 && follows) {
      last.set(channel, { timeS, bounces: before.bounces + 1 });
      continue;
    }
    own++;
    if (step[i] < 0) without++;
    else if (why[i] === misplacedPinReason) astray++;
    last.set(channel, { timeS, bounces: step[i] < 0 ? mostBounces : 0 });
  }
  if (own < fewestHits) return null;
  const heardUntil = (channel: number) => last.get(channel)?.timeS ?? -Infinity;
  const silent = strokes.missing.filter(
    ({ channel, dueS }) => isJudged(channel) && dueS < heardUntil(channel),
  ).length;
  const agree = own - without - astray;
  const all = own + silent;
  const isOther = without > mostWithout * own || agree < leastAgreed * all;
  return isOther ? { hits: own, without, all, agree } : null;
}
