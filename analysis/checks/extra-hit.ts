import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { driveStoodReason, swappedChannelReason } from '../strokes/lay.ts';
import { disagreement } from '../strokes/unpinned.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted, listed } from '../words/names.ts';
import { positionAt } from './position.ts';
import { axisLabel, thinned, type Point } from './plot-points.ts';
import { findRebounds } from './rebound.ts';

/** Hits of several turns so near each other on the barrel, in steps, come of something on it. */
const sameStep = 0.3;
/** So near a pin of the same channel, in steps, it has to do with that pin's stroke. */
const besideStep = 0.6;
/** More channels in one plot are not told apart. */
const channelsDrawn = 4;

/** Reasons of hits that have findings of their own: they are not raised again as hits that nobody programmed. */
const accountedFor: readonly (string | null)[] = [swappedChannelReason, driveStoodReason];

/** A hit that no pin asked for, and where the barrel stood. */
interface Stray {
  readonly channel: number;
  readonly timeS: number;
  readonly turn: number;
  /** Not whole: between pins. */
  readonly step: number;
}

/** One finding a channel: the hits that no pin asked for. Hits of nobody's sound are `unknown-sound`'s, rebounds `rebound`'s. */
export const extraHit: Check = {
  id: 'extra-hit',
  looksFor: 'Hits of a channel at which the pattern has no pin.',
  run: (study) =>
    [...grouped(straysOf(study), ({ channel }) => channel)].map(([channel, strays]) => {
      const { id } = study.machine.description.channels[channel];
      const at = listed(
        strays.map(
          ({ timeS, turn, step }) => `${timeS.toFixed(2)} s (turn ${turn}, step ${step.toFixed(1)})`,
        ),
      );
      const message = `${counted(strays.length, 'hit')} of ${channelName(study.machine, channel)} where the pattern has no pin: at ${at}${cause(study, strays)}`;
      return finding('extra-hit', message, { channel: id });
    }),
  section: (study) => {
    const channels = [...grouped(straysOf(study), ({ channel }) => channel)];
    if (channels.length === 0) return null;
    const { sectors } = study.machine.description.barrel;
    const series = channels
      .toSorted(([, a], [, b]) => b.length - a.length)
      .slice(0, channelsDrawn)
      .map(([channel, strays]) => ({
        name: channelName(study.machine, channel),
        points: thinned(strays.map(({ step, turn }): Point => [step, turn])),
      }));
    return {
      id: 'extra-hit',
      title: 'Hits nobody programmed',
      sentences: [
        'Where the barrel stood at each hit without a pin, turn by turn: hits above each other come of something on the barrel, strewn ones of the striker’s release or of the room.',
      ],
      plot: {
        xLabel: 'step on the barrel',
        yLabel: axisLabel('turn', series),
        rules: sectors.map(({ id, from }) => ({ axis: 'x' as const, at: from - 0.5, name: id })),
        series,
      },
    };
  },
};

/** What the strays' places on the barrel say of their cause. */
function cause({ machine }: Study, strays: readonly Stray[]): string {
  const { steps } = machine.description.barrel;
  const besidePin = strays.every(({ channel, step }) =>
    machine.pins.some(
      (pin) =>
        pin.channel === channel &&
        Math.abs(((step - pin.step + 1.5 * steps) % steps) - steps / 2) < besideStep,
    ),
  );
  const each = strays.length > 1 ? 'each' : 'it is';
  if (besidePin)
    return `; ${each} beside a pin of its own: a bounce, a trip that catches twice, or one stroke heard twice`;
  const turns = new Set(strays.map(({ turn }) => turn));
  const places = strays.map(({ step }) => step);
  return turns.size > 1 &&
    turns.size === strays.length &&
    Math.max(...places) - Math.min(...places) < sameStep
    ? '; always at the same place of the barrel, so look there for a burr or a pin that the pattern lacks'
    : '';
}

function straysOf(study: Study): Stray[] {
  const { machine, strokes } = study;
  // Where most strokes are such, that is said once, by its own check.
  if (!strokes.rotation.found || disagreement(strokes, machine) !== null) return [];
  const { hits, rotation } = strokes;
  const { steps } = machine.description.barrel;
  // A click is no striker: none of its hits has a pin.
  const click = machine.description.channels.findIndex(({ id }) => id === machine.description.click);
  const rebounds = new Set(findRebounds(study).flatMap(({ pairs }) => pairs.map(({ hit }) => hit)));
  return [...hits.channel.keys()]
    .filter(
      (i) =>
        hits.channel[i] >= 0 &&
        hits.channel[i] !== click &&
        strokes.step[i] < 0 &&
        !accountedFor.includes(strokes.why[i]) &&
        !rebounds.has(i),
    )
    .map((i) => {
      const position = positionAt(rotation, steps, hits.timeS[i]);
      const turn = Math.floor(position / steps);
      return { channel: hits.channel[i], timeS: hits.timeS[i], turn, step: position - turn * steps };
    });
}
