import { finding } from '../catalogue.ts';
import { mostlyUnpinned } from '../strokes/unpinned.ts';
import type { Check } from './check.ts';

export const pinsMissing: Check = {
  id: 'pins-missing',
  looksFor: 'Patterns that lack most of what the take strikes.',
  run: ({ machine, strokes }) => {
    const unpinned = mostlyUnpinned(strokes, machine);
    if (unpinned === null) return [];
    const { hits, without } = unpinned;
    const message = `${without} of ${hits} strokes beside the reference’s lie where the pattern has no pin: its pins are not entered yet, or it is another barrel’s; all that is measured is in doubt, and nothing is advised by it`;
    return [finding('pins-missing', message)];
  },
};
