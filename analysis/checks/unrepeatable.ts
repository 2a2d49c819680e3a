import { finding } from '../results/catalogue.ts';
import type { Check } from './check.ts';
import { channelName } from '../words/names.ts';

/** Strokes from which a spread is worth a warning: the 95 % factors on a spread of ten are 0.69 to 1.83 (from χ²). */
const enoughStrokes = 10;

export const unrepeatable: Check = {
  id: 'unrepeatable',
  looksFor: 'Channels whose single pins scatter more from turn to turn than tolerance allows for.',
  run: ({ machine, groups, strokes: { stepMs = 0 } }) =>
    groups.flatMap(({ channel, sector, count, repeatabilityMs }) => {
      if (sector !== null || count < enoughStrokes || repeatabilityMs === null) return [];
      const index = machine.description.channels.findIndex(({ id }) => id === channel);
      const { toleranceMs } = machine.description.channels[index];
      // Rounding as it falls evenly, step²/12, is off it already; a pin that lies between two steps may scatter by step²/4.
      const surelyMs2 = repeatabilityMs ** 2 - stepMs ** 2 * (1 / 4 - 1 / 12);
      // A stroke lies within two spreads of its mean 95 % of the time; beyond tolerance no shim can hold it.
      if (4 * surelyMs2 <= toleranceMs ** 2) return [];
      const message = `${channelName(machine, index)} does not repeat: one pin’s strokes scatter by ${repeatabilityMs.toFixed(1)} ms from turn to turn, against a tolerance of ${toleranceMs} ms`;
      return [finding('unrepeatable', message, { channel })];
    }),
};
