import { finding } from '../catalogue.ts';
import { grouped } from '../grouped.ts';
import type { Check } from './check.ts';
import { channelName, counted, listed } from './names.ts';
import { findRebounds } from './rebound.ts';

/** One finding a channel: the hits that no pin asked for. Hits of nobody's sound are `unknown-sound`'s, rebounds `rebound`'s. */
export const extraHit: Check = {
  id: 'extra-hit',
  looksFor: 'Hits of a channel at which the pattern has no pin.',
  run: (study) => {
    const { machine, strokes } = study;
    if (!strokes.rotation.found) return [];
    const { hits } = strokes;
    // A click is no striker: none of its hits has a pin.
    const click = machine.description.channels.findIndex(({ id }) => id === machine.description.click);
    const rebounds = new Set(findRebounds(study).flatMap(({ pairs }) => pairs.map(({ hit }) => hit)));
    const extra = [...hits.channel.keys()].filter(
      (i) => hits.channel[i] >= 0 && hits.channel[i] !== click && strokes.step[i] < 0 && !rebounds.has(i),
    );
    const channels = grouped(extra, (i) => hits.channel[i]);
    return [...channels].map(([channel, strays]) =>
      finding(
        'extra-hit',
        `${counted(strays.length, 'hit')} of ${channelName(machine, channel)} where the pattern has no pin: at ${listed(strays.map((i) => `${hits.timeS[i].toFixed(2)} s`))}`,
        { channel: machine.description.channels[channel].id },
      ),
    );
  },
};
