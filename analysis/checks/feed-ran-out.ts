/** Feed running out: from some stroke on a channel stays silent to the end, while the others play on. */
import { finding } from '../catalogue.ts';
import { grouped } from '../grouped.ts';
import type { MissingStroke } from '../strokes/strokes.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted } from './names.ts';

/** Fewer silent strokes at the end are single misses. */
const leastSilent = 3;
/** Chance of one false alarm in a take. */
const falseAlarm = 0.002;

export interface RanOut {
  readonly channel: number;
  readonly heard: number;
  /** The silent strokes, in order of time. */
  readonly silent: readonly MissingStroke[];
}

export const feedRanOut: Check = {
  id: 'feed-ran-out',
  looksFor: 'A channel that falls silent and stays so while others play on.',
  run: (study) =>
    findRanOut(study).map(({ channel, heard, silent }) => {
      const { id } = study.machine.description.channels[channel];
      const { turn, step, dueS } = silent[0];
      const message = `${channelName(study.machine, channel)} falls silent at ${dueS.toFixed(2)} s (turn ${turn}, step ${step}) after ${counted(heard, 'stroke')}: all ${silent.length} strokes from there to the end are missing`;
      return finding('feed-ran-out', message, { channel: id, step, turn });
    }),
};

/**
 * By how often the channel misses otherwise (Laplace's rule of succession: one more miss than seen among two more strokes),
 * that so many miss in a row at the very end is beyond chance.
 */
export function findRanOut({ machine, strokes }: Study): RanOut[] {
  const { hits, step, missing } = strokes;
  return [...grouped(missing, ({ channel }) => channel)].flatMap(([channel, missed]) => {
    const heard = [...hits.channel.keys()].filter((i) => hits.channel[i] === channel && step[i] >= 0);
    if (heard.length === 0) return [];
    const last = hits.timeS[heard[heard.length - 1]];
    const silent = missed.filter(({ dueS }) => dueS > last).sort((a, b) => a.dueS - b.dueS);
    if (silent.length < leastSilent) return [];
    const otherwise =
      (missed.length - silent.length + 1) / (heard.length + missed.length - silent.length + 2);
    const chance = otherwise ** silent.length * machine.description.channels.length;
    return chance < falseAlarm ? [{ channel, heard: heard.length, silent }] : [];
  });
}
