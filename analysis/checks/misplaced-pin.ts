import { finding } from '../results/catalogue.ts';
import type { MisplacedPin } from '../strokes/strokes.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted } from '../words/names.ts';
import { positionAt } from './position.ts';
import { axisLabel, thinned, type Point } from './plot-points.ts';

/** More pins in one plot are not told apart. */
const pinsDrawn = 4;

export const misplacedPin: Check = {
  id: 'misplaced-pin',
  looksFor: 'Pins that sit about a whole step or more from where the pattern has them, turn after turn.',
  run: ({ machine, strokes }) =>
    strokes.misplaced.map(({ channel, step, foundStep, count }) =>
      finding(
        'misplaced-pin',
        `the pin of ${channelName(machine, channel)} at step ${step} was heard at step ${foundStep} (${counted(count, 'stroke')}); it is left out of the means`,
        { channel: machine.description.channels[channel].id, step, foundStep },
      ),
    ),
  section: (study) => {
    const { machine, strokes } = study;
    if (strokes.misplaced.length === 0) return null;
    const series = strokes.misplaced.slice(0, pinsDrawn).map((pin) => ({
      name: `${channelName(machine, pin.channel)}, step ${pin.step}`,
      points: thinned(strokesOf(study, pin)),
    }));
    return {
      id: 'misplaced-pin',
      title: 'Pins in another hole',
      sentences: [
        'Where each of these pins’ strokes fell, in steps from its hole in the pattern: a pin in another hole is off by whole steps, as much in every turn.',
      ],
      plot: {
        xLabel: 'turn',
        yLabel: axisLabel('steps from its hole', series),
        rules: [{ axis: 'y', at: 0, name: 'as in the pattern' }],
        series,
      },
    };
  },
};

/** Each stroke's turn and how many steps from the pattern's hole it fell. */
function strokesOf({ machine, strokes }: Study, { channel, step, foundStep }: MisplacedPin): Point[] {
  const { steps } = machine.description.barrel;
  const { hits, rotation } = strokes;
  const holes = ((((foundStep - step) % steps) + 1.5 * steps) % steps) - steps / 2;
  return [...hits.channel.keys()].flatMap((i): Point[] => {
    if (hits.channel[i] !== channel || !Number.isFinite(hits.timeS[i])) return [];
    const position = positionAt(rotation, steps, hits.timeS[i]);
    const turn = Math.round((position - step - holes) / steps);
    const off = position - turn * steps - step;
    return Math.abs(off - holes) < 0.5 ? [[turn, off]] : [];
  });
}
