/** Rebounds: a striker that comes back and strikes once more, weaker, shortly after its stroke. */
import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { binomialUpper } from '../numbers/binomial.ts';
import { median } from '../numbers/statistics.ts';
import { disagreement } from '../strokes/unpinned.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted, listed } from '../words/names.ts';
import { axisLabel, thinned, type Point } from './plot-points.ts';

/** A striker that has left the sound is back within this, or not at all, s; common practice, no source. */
const latestS = 0.25;
/** A rebound has lost energy; a hit this little weaker or louder is a stroke of something else, dB. */
const leastDropDb = 1;
const leastRebounds = 2;
/** Chance of one false rebound in a take. */
const falseAlarm = 0.002;

export interface Rebounds {
  readonly channel: number;
  readonly strokes: number;
  /** Hits that are rebounds, and the strokes they follow. */
  readonly pairs: readonly { readonly hit: number; readonly stroke: number; readonly delayS: number }[];
  /** Median drop in level, dB; NaN where levels are not known. */
  readonly dropDb: number;
}

export const rebound: Check = {
  id: 'rebound',
  looksFor: 'Second strikes of the same sound shortly after a stroke, weaker than it.',
  run: (study) =>
    findRebounds(study).map(({ channel, strokes, pairs, dropDb }) => {
      const { hits, step } = study.strokes;
      const { id } = study.machine.description.channels[channel];
      const delay = 1000 * median(pairs.map(({ delayS }) => delayS));
      const weaker = Number.isFinite(dropDb) ? `, ${dropDb.toFixed(0)} dB weaker` : '';
      const when = listed(pairs.map(({ hit }) => `${hits.timeS[hit].toFixed(2)} s`));
      const steps = [...new Set(pairs.map(({ stroke }) => step[stroke]))];
      const one = steps.length === 1 && pairs.length > 1 ? `, always after its pin at step ${steps[0]}` : '';
      const message = `${channelName(study.machine, channel)} strikes twice after ${pairs.length} of ${counted(strokes, 'stroke')}: again about ${delay.toFixed(0)} ms later${weaker}${one}, at ${when}`;
      return finding(
        'rebound',
        message,
        steps.length === 1 ? { channel: id, step: steps[0] } : { channel: id },
      );
    }),
  section: (study) => {
    const { hits } = study.strokes;
    const channels = followers(study).filter(({ pairs }) => pairs.length > 0);
    if (channels.length === 0) return null;
    const found = findRebounds(study);
    const names = found.map(({ channel }) => channelName(study.machine, channel));
    const series = channels.map(({ channel, pairs }) => ({
      name: channelName(study.machine, channel),
      points: thinned(
        pairs.map(({ hit, stroke, delayS }): Point => [
          1000 * delayS,
          hits.levelDb[hit] - hits.levelDb[stroke],
        ]),
      ).filter((point) => point.every(Number.isFinite)),
    }));
    return {
      id: 'rebound',
      title: 'Second strikes',
      sentences: [
        `Every hit without a pin that follows a stroke of its own channel within ${1000 * latestS} ms: a rebound comes always about as late, and weaker.`,
        found.length === 0
          ? `They are too few or too scattered to be rebounds: ${listed(channels.map(({ channel, pairs }) => `${channelName(study.machine, channel)} ${pairs.length}`))}.`
          : `Rebounds: ${listed(names)}.`,
      ],
      plot: {
        xLabel: 'ms after the stroke',
        yLabel: axisLabel('dB against the stroke', series),
        rules: [{ axis: 'x', at: 0, name: 'the stroke' }],
        series,
      },
    };
  },
};

interface Followers {
  readonly channel: number;
  readonly pinned: readonly number[];
  readonly extra: readonly number[];
  readonly pairs: readonly (Rebounds['pairs'][number] & { readonly dropDb: number })[];
}

/** Of each channel that strikes, its hits without a pin and, of those, the ones that follow a stroke closely and weaker. */
function followers({ strokes }: Study): Followers[] {
  const { hits, step, rotation } = strokes;
  if (!rotation.found) return [];
  const byChannel = grouped(
    [...hits.channel.keys()].filter((i) => hits.channel[i] >= 0),
    (i) => hits.channel[i],
  );
  return [...byChannel].flatMap(([channel, own]) => {
    const pinned = own.filter((i) => step[i] >= 0);
    const extra = own.filter((i) => step[i] < 0);
    if (pinned.length === 0) return [];
    const pairs = extra.flatMap((hit) => {
      const stroke = pinned.findLast((i) => hits.timeS[i] < hits.timeS[hit]);
      if (stroke === undefined) return [];
      const delayS = hits.timeS[hit] - hits.timeS[stroke];
      const dropDb = hits.levelDb[stroke] - hits.levelDb[hit];
      return delayS <= latestS && !(dropDb < leastDropDb) ? [{ hit, stroke, delayS, dropDb }] : [];
    });
    return [{ channel, pinned, extra, pairs }];
  });
}

/**
 * Hits of a channel without a pin that follow its strokes more often than hits strewn by chance would: of those, what
 * share falls so near behind a stroke is known, and their number is binomial.
 */
export function findRebounds(study: Study): Rebounds[] {
  const { hits } = study.strokes;
  // Then a hit that follows another is its next stroke as likely as not.
  if (disagreement(study.strokes, study.machine) !== null) return [];
  return followers(study).flatMap(({ channel, pinned, extra, pairs }) => {
    if (pairs.length < leastRebounds) return [];
    const length = hits.timeS[hits.count - 1] - hits.timeS[0];
    const covered = pinned.reduce((sum, i, k) => {
      const until = k + 1 < pinned.length ? hits.timeS[pinned[k + 1]] : hits.timeS[i] + latestS;
      return sum + Math.min(latestS, until - hits.timeS[i]);
    }, 0);
    const share = Math.min(1, covered / length);
    // Where strokes come so thick that any hit follows one, that it is weaker and always as late must say it.
    const strewn = binomialUpper(pairs.length, extra.length, share);
    const alike = sameDelay(pairs.map(({ delayS }) => delayS));
    if (Math.min(strewn, alike) * study.machine.description.channels.length >= falseAlarm) return [];
    return [{ channel, strokes: pinned.length, pairs, dropDb: median(pairs.map(({ dropDb }) => dropDb)) }];
  });
}

/** Chance that delays drawn evenly from 0 to the latest lie as close together as these: n·r^(n−1) − (n−1)·r^n. */
function sameDelay(delays: readonly number[]): number {
  const n = delays.length;
  const range = (Math.max(...delays) - Math.min(...delays)) / latestS;
  return n * range ** (n - 1) - (n - 1) * range ** n;
}
