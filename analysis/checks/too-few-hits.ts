import { finding } from '../results/catalogue.ts';
import type { Finding } from '../results/results.ts';
import { fewestForMean } from '../strokes/groups.ts';
import type { Check } from './check.ts';
import { counted } from '../words/names.ts';

export const tooFewHits: Check = {
  id: 'too-few-hits',
  looksFor: 'Groups with too few strokes for a mean and an interval.',
  run: ({ machine, groups, strokes: { sitsAt, mirrored, otherTune } }) => {
    const { click, channels } = machine.description;
    const pinned = new Set(machine.pins.map(({ channel }) => channels[channel].id));
    // Of a channel taken for another, a pattern read backwards or another tune's, more turns would tell no more.
    const isAnother = mirrored || otherTune !== undefined;
    const told = new Set(channels.filter((_, c) => isAnother || (sitsAt[c] ?? c) !== c).map(({ id }) => id));
    const few = groups.filter(
      ({ channel, count }) =>
        pinned.has(channel) && count < fewestForMean && channel !== click && !told.has(channel),
    );
    // A channel that is too thin as a whole is said once, not once a sector.
    const wholly = new Set(few.filter(({ sector }) => sector === null).map(({ channel }) => channel));
    return few
      .filter(({ channel, sector }) => sector === null || !wholly.has(channel))
      .map(({ channel, sector, count }): Finding => {
        const where = sector === null ? channel : `${channel} in sector ${sector}`;
        const message = `only ${counted(count, 'stroke')} of ${where}: too few for a mean`;
        return finding('too-few-hits', message, sector === null ? { channel } : { channel, sector });
      });
  },
};
