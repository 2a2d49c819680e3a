import { finding } from '../catalogue.ts';
import type { Check } from './check.ts';
import { channelName, counted } from './names.ts';

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
};
