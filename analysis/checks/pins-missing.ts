import { finding } from '../results/catalogue.ts';
import { disagreement } from '../strokes/unpinned.ts';
import type { Check } from './check.ts';

export const pinsMissing: Check = {
  id: 'pins-missing',
  looksFor: 'Patterns that do not agree with most of what the take strikes.',
  run: ({ machine, strokes }) => {
    const found = disagreement(strokes, machine);
    if (found === null) return [];
    const { hits, without, all, agree } = found;
    const what =
      2 * without > hits
        ? `${without} of ${hits} strokes beside the reference’s lie where the pattern has no pin`
        : `of ${all} strokes that were heard or due beside the reference’s only ${agree} were heard at their pins`;
    const message = `${what}: its pins are not entered yet, or it is another barrel’s; all that is measured is in doubt, and nothing is advised by it`;
    return [finding('pins-missing', message)];
  },
};
