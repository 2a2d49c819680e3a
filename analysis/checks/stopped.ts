import { finding } from '../results/catalogue.ts';
import type { Check } from './check.ts';
import { positionAt } from './position.ts';

export const stopped: Check = {
  id: 'stopped',
  looksFor: 'A drive that stood still during the take.',
  run: ({ machine, strokes: { stands, rotation } }) =>
    stands.map(({ fromS, lostS }) => {
      const { steps } = machine.description.barrel;
      const position = Math.round(positionAt(rotation, steps, fromS));
      const turn = Math.floor(position / steps);
      const message = `the drive stood still for ${lostS.toFixed(1)} s after ${fromS.toFixed(2)} s (turn ${turn}, step ${position - turn * steps}): lateness is told from the stretches before and after, tempo and shafts from the longest alone, and strokes while it stopped and started are left out`;
      return finding('stopped', message, { turn, step: position - turn * steps });
    }),
};
