/**
 * Strokes for which the pattern has no pin. A bounce or a burr makes a few; where they are most of what is heard, the pattern is
 * another's, or its pins are not entered yet, and whatever it seems to fit by is chance.
 */
import type { Machine } from '../machine/machine.ts';
import { noPin } from './lay.ts';
import type { Strokes } from './strokes.ts';

export interface Unpinned {
  /** Hits of the channels that have pins, the reference and a recorded click left out. */
  readonly hits: number;
  /** Of them, those that lie at no pin. */
  readonly without: number;
}

/** Of fewer hits no share is told. */
const fewestHits = 12;
/** With every stroke heard twice half of the hits have no pin; more no striker makes. */
const most = 0.5;

const known = new WeakMap<Strokes, Unpinned | null>();

/** null where at least half of the hits have a pin, or there are too few to tell. Worked out once for strokes. */
export function mostlyUnpinned(strokes: Strokes, { description, reference, pins }: Machine): Unpinned | null {
  let found = known.get(strokes);
  if (found === undefined) {
    const { hits, step, why, rotation } = strokes;
    const click = description.channels.findIndex(({ id }) => id === description.click);
    const pinned = new Set(pins.map(({ channel }) => channel));
    const own = [...hits.channel.keys()].filter((i) => {
      const channel = hits.channel[i];
      const isJudged = step[i] >= 0 || why[i] === noPin; // others are set aside for reasons of their own
      return isJudged && channel !== reference && channel !== click && pinned.has(channel);
    });
    const without = own.filter((i) => why[i] === noPin).length;
    const isMost = rotation.found && own.length >= fewestHits && without > most * own.length;
    found = isMost ? { hits: own.length, without } : null;
    known.set(strokes, found);
  }
  return found;
}
