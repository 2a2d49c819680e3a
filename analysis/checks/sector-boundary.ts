import { finding } from '../results/catalogue.ts';
import { wrongBoundaries } from '../strokes/boundary.ts';
import type { Check } from './check.ts';
import { counted } from '../words/names.ts';

export const sectorBoundary: Check = {
  id: 'sector-boundary',
  looksFor:
    'Sectors whose first step was entered wrongly: a run of pins that lies as the neighbouring sector does.',
  run: ({ machine, strokes }) =>
    wrongBoundaries(strokes, machine).map(({ sector, before, earliest, latest, pins, apartMs }) => {
      const { sectors } = machine.description.barrel;
      const { id, from } = sectors[sector];
      const at = earliest === latest ? `${latest}` : `${earliest} to ${latest}`;
      const message = `sector ${id} seems to begin at step ${at}, not at ${from}: ${counted(pins.length, 'pin')} between lie as those on the other side do, ${Math.abs(apartMs).toFixed(1)} ms from the sector they are counted in; suspect the boundary between ${sectors[before].id} and ${id}, not the pins`;
      return finding('sector-boundary', message, { sector: id, step: from });
    }),
};
