import { finding } from '../results/catalogue.ts';
import { swingInStepOf } from '../strokes/doubts.ts';
import { coarseStepMs } from '../strokes/resolution.ts';
import type { Check } from './check.ts';

export const swingInStep: Check = {
  id: 'swing-in-step',
  looksFor:
    'A swing of the drive that the reference always meets at the same place, so that it cannot be told from lateness.',
  run: ({ machine, strokes }) => {
    const swing = (strokes.stepMs ?? 0) > coarseStepMs ? null : swingInStepOf(strokes, machine);
    return swing === null
      ? []
      : [
          finding(
            'swing-in-step',
            `${swing}: what it moves all other channels by cannot be told from lateness`,
          ),
        ];
  },
};
