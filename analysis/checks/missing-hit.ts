import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { disagreement } from '../strokes/unpinned.ts';
import type { Check } from './check.ts';
import { findRanOut } from './feed-ran-out.ts';
import { channelName, counted, listed } from '../words/names.ts';

/** One finding a pin: which turns it missed, however many they were. */
export const missingHit: Check = {
  id: 'missing-hit',
  looksFor: 'Strokes that the pattern asked for and nobody heard.',
  run: (study) => {
    const { machine, strokes } = study;
    if (disagreement(strokes, machine) !== null) return [];
    // What a feed that ran out left silent is said once, by its own check.
    const ranOut = new Set(findRanOut(study).flatMap(({ silent }) => silent));
    const single = strokes.missing.filter((stroke) => !ranOut.has(stroke));
    const pins = grouped(single, ({ channel, step }) => `${channel} ${step}`);
    return [...pins.values()].map((missed) => {
      const { channel, step } = missed[0];
      const turns = listed(missed.map(({ turn, dueS }) => `turn ${turn} (due at ${dueS.toFixed(2)} s)`));
      return finding(
        'missing-hit',
        `${counted(missed.length, 'stroke')} of ${channelName(machine, channel)} at step ${step} not heard: ${turns}`,
        { channel: machine.description.channels[channel].id, step, turn: missed[0].turn },
      );
    });
  },
};
