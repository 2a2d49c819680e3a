/** Feed running out: from some stroke on a channel stays silent to the end, while the others play on. */
import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import type { MissingStroke } from '../strokes/strokes.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted } from '../words/names.ts';
import { thinned, type Point } from './plot-points.ts';

/** Fewer silent strokes at the end are single misses. */
const leastSilent = 3;
/** Chance of one false alarm in a take. */
const falseAlarm = 0.002;
/** The worst; more in one plot are not told apart. */
const channelsDrawn = 4;

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
  section: (study) => {
    const { machine, strokes } = study;
    const channels = [...grouped(strokes.missing, ({ channel }) => channel)]
      .sort(([, a], [, b]) => b.length - a.length)
      .slice(0, channelsDrawn);
    if (channels.length === 0) return null;
    const ranOut = findRanOut(study).map(({ channel }) => channelName(machine, channel));
    const endS = strokes.hits.timeS[strokes.hits.count - 1];
    return {
      id: 'feed-ran-out',
      title: 'Strokes nobody heard',
      sentences: [
        'Missed strokes of each channel, counted up over the take: a single miss is a step, a feed that ran out is a line that climbs to the end.',
        ranOut.length === 0 ? 'No feed ran out.' : `Ran out: ${ranOut.join(', ')}.`,
      ],
      plot: {
        xLabel: 's into the take',
        yLabel: 'strokes missed so far',
        series: channels.map(([channel, missed]) => ({
          name: channelName(machine, channel),
          line: true,
          points: thinned(countedUp(missed, endS)),
        })),
      },
    };
  },
};

function countedUp(missed: readonly MissingStroke[], endS: number): Point[] {
  const times = missed.map(({ dueS }) => dueS).sort((a, b) => a - b);
  const steps = times.flatMap((dueS, i): Point[] => [
    [dueS, i],
    [dueS, i + 1],
  ]);
  return [[0, 0], ...steps, [Math.max(endS, times[times.length - 1]), times.length]];
}

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
