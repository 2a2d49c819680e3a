/** Where things stand in the lateness plot: sectors and strokes along a panel, lateness across it. */
import { sectorSpans } from '../machine/effects.ts';
import type { HitRow, ReportHead } from '../results/results.ts';
import type { SectorExtent, Panel } from './panel.ts';
import { sectorsOf } from './reading.ts';

/** A panel that needs more than this many times the middle one's scale gets a scale of its own. */
const ownScaleFrom = 4;

/** The edge of each panel's scale, ms: one for all that it suits. */
export function limitsOf(panels: readonly Omit<Panel, 'limitMs'>[]): { shared: number; own: number[] } {
  const needs = panels.map(({ channel, readings, strokes }) => {
    const means = readings.map(({ group }) => Math.abs(group.meanMs ?? 0) + (group.ci95Ms ?? 0));
    const sizes = strokes.map(({ latenessMs }) => Math.abs(latenessMs!)).sort((a, b) => a - b);
    // The outermost strokes do not set the scale: they are drawn at its edge.
    const most = sizes[Math.floor(0.98 * (sizes.length - 1))] ?? 0;
    return Math.max(1.3 * channel.toleranceMs, most, ...means);
  });
  const middle = [...needs].sort((a, b) => a - b)[Math.floor((needs.length - 1) / 2)] ?? 1;
  const shared = Math.max(...needs.filter((need) => need <= ownScaleFrom * middle), 0);
  return { shared, own: needs.map((need) => (need <= shared ? shared : need)) };
}

/** Sectors along a panel, as long as they are on the barrel; all alike where the report does not say. */
export function sectorExtents(report: ReportHead): SectorExtent[] {
  const { barrel } = report;
  if (barrel === undefined) return sectorsOf(report).map((sector, i) => ({ sector, from: i, to: i + 1 }));
  return sectorSpans(barrel).map(({ id, from, to }) => ({ sector: id, from, to }));
}

/** Where a stroke stands: the middle of its pin's step, or of its sector where the report has no barrel. */
export function placerOf(
  { barrel }: ReportHead,
  columns: readonly SectorExtent[],
): (stroke: HitRow) => number {
  if (barrel === undefined) {
    const middles = new Map(columns.map(({ sector, from }) => [sector, from + 0.5]));
    return ({ sector }) => middles.get(sector ?? '') ?? NaN;
  }
  const first = columns[0].from;
  return ({ step }) => (step === null ? NaN : step < first ? step + barrel.steps : step) + 0.5;
}
