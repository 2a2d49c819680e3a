/**
 * Sector edges: are the first or the last pins of sectors late or early against the rest of their sector? A joint that
 * stands proud, or a lever that drops across the gap, does that; a shim under the whole sector does not mend it.
 */
import { grouped } from '../numbers/grouped.ts';
import { median } from '../numbers/statistics.ts';
import { finding } from '../results/catalogue.ts';
import type { Machine } from '../machine/machine.ts';
import type { SectionPlot } from '../results/results.ts';
import { counted, signedMs } from '../words/names.ts';
import type { Check } from './check.ts';
import { awayFromEdges } from './pattern-shift.ts';
import { offCentre, placedPins, type PlacedPin } from './placed-pins.ts';
import { thinned } from './plot-points.ts';
import { sectorEdges, type Edge } from './sector-edges.ts';

export const sectorEdge: Check = {
  id: 'sector-edge',
  looksFor: 'First or last pins of sectors that are late or early against the rest of their sector.',
  run: (study) =>
    sectorEdges(study).map((edge) => {
      const { sectors } = study.machine.description.barrel;
      const where = edge.sector === null ? 'every sector' : `sector ${sectors[edge.sector].id}`;
      const which = edge.steps === 1 ? `${edge.side} step` : `${edge.side} ${edge.steps} steps`;
      const message = `pins on the ${which} of ${where} strike ${signedMs(edge.offMs)} ± ${edge.ci95Ms.toFixed(2)} ms against the rest of the sector (${counted(edge.pins, 'pin')}): ${todo(study.machine, edge)}`;
      return finding('sector-edge', message, edge.sector === null ? {} : { sector: sectors[edge.sector].id });
    }),
  section: (study) => {
    const pins = placedPins(study);
    if (pins.length === 0) return null;
    const { sectors } = study.machine.description.barrel;
    const edges = sectorEdges(study);
    const found =
      edges.length === 0
        ? 'No edge shows in this take.'
        : `Off at the edge: ${edges.map(({ side, sector, steps }) => `the ${side} ${counted(steps, 'step')} of ${sector === null ? 'every sector' : `sector ${sectors[sector].id}`}`).join(', ')}.`;
    return {
      id: 'sector-edge',
      title: 'Edges of sectors',
      sentences: [
        'Every pin against the rest of its channel’s pins in its sector, by how many steps it stands in from the sector’s first step (positive) or last (negative). The first stroke of a take and pins after a rest are told apart from an edge.',
        found,
      ],
      plot: edgePlot(pins, edges),
    };
  },
};

/** Every pin by its place in its sector, and the middle of the pins of one place. */
function edgePlot(pins: readonly PlacedPin[], edges: readonly Edge[]): SectionPlot {
  const off = offCentre(pins);
  const points = pins.map(({ fromFirst, fromLast }, i): [number, number] => [
    fromFirst <= fromLast ? fromFirst + 1 : -fromLast - 1,
    off[i],
  ]);
  const middles = [...grouped(points, ([place]) => place)]
    .map(([place, own]): [number, number] => [place, median(own.map(([, ms]) => ms))])
    .sort(([a], [b]) => a - b);
  const middle = { name: 'middle of the pins of one place', line: true };
  return {
    xLabel: 'steps in from the nearer edge: − from the last, + from the first',
    yLabel: 'ms against the rest of the sector',
    rules: [
      { axis: 'y', at: 0, name: '' },
      { axis: 'x', at: 0, name: 'joint' },
      ...edges.map(({ side, steps }) => ({
        axis: 'x' as const,
        at: side === 'first' ? steps + 0.5 : -steps - 0.5,
        name: 'reaches to here',
      })),
    ],
    series: [
      { name: 'pins', points: thinned(points) },
      { ...middle, points: thinned(middles.filter(([place]) => place < 0)) },
      { ...middle, points: thinned(middles.filter(([place]) => place > 0)) },
    ],
  };
}

function todo(machine: Machine, edge: Edge): string {
  const shift = awayFromEdges(machine, edge);
  if (shift === null || shift.steps === 0)
    return 'check the joint; no other place of the pattern has fewer pins there';
  const { steps, before, after } = shift;
  const way = steps > 0 ? 'later' : 'earlier';
  return `check the joint, or move the whole pattern ${counted(Math.abs(steps), 'step')} ${way} on the barrel, which leaves ${after} of ${before} pins there`;
}
