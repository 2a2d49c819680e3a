import { finding } from '../results/catalogue.ts';
import type { TuneFit } from '../strokes/other-tune.ts';
import type { Check } from './check.ts';

export const otherTune: Check = {
  id: 'other-tune',
  looksFor: 'Takes of another tune than take.jsonc names, or pattern files of tunes that are exchanged.',
  run: ({ strokes: { otherTune, perhapsTune } }) => {
    if (perhapsTune !== undefined) {
      const { named, other, orElse } = perhapsTune;
      const message = `a channel is silent, and what is heard may be ${[other.tune, ...orElse].join(' or ')} rather than ${named.tune}, which take.jsonc names: ${share(other)}; ${share(named)}; nothing is advised by it`;
      return [finding('perhaps-other-tune', message)];
    }
    if (otherTune === undefined) return [];
    const { named, other, orElse } = otherTune;
    const names = [other.tune, ...orElse].join(' or ');
    const message = `the take sounds like ${names}, not like ${named.tune}, which take.jsonc names: ${share(other)}; ${share(named)}; nothing is measured`;
    return [finding('other-tune', message)];
  },
};

/** "of march, 19 of 19 pins sound and 152 of 152 strokes have a pin" */
function share({ tune, pins, due, hitsAtPins, hits }: TuneFit): string {
  return due === 0
    ? `the pins of ${tune} could not be found in it`
    : `of ${tune}, ${pins} of ${due} pins sound, and ${hitsAtPins} of ${hits} strokes have a pin`;
}
