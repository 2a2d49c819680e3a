/** What stands still in a channel's panel, through Observable Plot: tolerance, joints, means with their intervals. */
import * as Plot from '@observablehq/plot';
import { type ChannelFacts, type Reading, withInterval } from '../../analysis/report/reading.ts';
import { minutesAndSeconds } from '../../analysis/words/minutes.ts';
import { plain } from './element.ts';
import { placed } from './picture.ts';
import type { SectorExtent } from '../../analysis/report/panel.ts';

export interface PanelShape {
  readonly width: number;
  readonly height: number;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

export interface Panel {
  readonly channel: ChannelFacts;
  readonly readings: readonly Reading[];
  readonly columns: readonly SectorExtent[];
  /** Seconds at the right edge where strokes stand by time, null where they stand along the barrel. */
  readonly endS: number | null;
  /** Lateness at the upper edge, ms. */
  readonly limitMs: number;
  readonly shape: PanelShape;
}

/** Room beyond the limit, so that marks on it are whole. */
export const headroom = 1.1;

/** A column narrower than this has room for the mean alone, px. */
const narrowColumn = 92;

export function drawPanelPlot(panel: Panel, words: string): SVGSVGElement | HTMLElement {
  const { channel, limitMs, shape, endS } = panel;
  const tolerance = Math.min(channel.toleranceMs, limitMs);
  const along = endS === null ? barrelMarks(panel) : timeMarks(endS);
  const plot = Plot.plot({
    width: shape.width,
    height: shape.height,
    marginLeft: shape.left,
    marginRight: shape.right,
    marginTop: shape.top,
    marginBottom: shape.bottom,
    style: { background: 'none', color: 'var(--ink)', fontFamily: 'inherit' },
    x: { domain: along.domain, axis: null },
    y: { domain: [-limitMs * headroom, limitMs * headroom], axis: null },
    marks: [
      Plot.rect([0], {
        x1: along.domain[0],
        x2: along.domain[1],
        y1: -tolerance,
        y2: tolerance,
        fill: 'var(--band)',
      }),
      Plot.ruleY([-tolerance, tolerance], { stroke: 'var(--rule)', strokeDasharray: '2 4' }),
      Plot.ruleY([0], { stroke: 'var(--ink)', strokeWidth: 0.9 }),
      Plot.axisY({
        ticks: 4,
        tickSize: 0,
        label: null,
        tickFormat: (ms: number) => (ms === 0 ? 'due' : `${ms > 0 ? '+' : '−'}${Math.abs(ms)}`),
        color: 'var(--quiet)',
      }),
      ...along.marks,
    ],
  });
  return placed(plot, words);
}

function timeMarks(endS: number) {
  const clock = (s: number) => (endS < 120 ? `${s} s` : minutesAndSeconds(s));
  return {
    domain: [0, Math.max(1e-3, endS)] as [number, number],
    marks: [
      Plot.axisX({ ticks: 8, tickSize: 3, label: null, tickFormat: clock, color: 'var(--quiet)' }),
    ] as Plot.Markish[],
  };
}

function barrelMarks({ columns, readings, limitMs, shape }: Panel) {
  const columnOf = new Map(columns.map((column) => [column.sector, column]));
  const inside = (ms: number) => Math.max(-limitMs, Math.min(limitMs, ms));
  const shown = readings.filter(({ sector }) => columnOf.has(sector));
  const measured = shown.filter(({ group }) => group.meanMs !== null);
  const mean = ({ group }: Reading) => inside(group.meanMs!);
  const edge = (share: number) => (reading: Reading) => {
    const { from, to } = columnOf.get(reading.sector)!;
    return from + (to - from) * share;
  };
  const width = (shape.width - shape.left - shape.right) / Math.max(1, columns.length);
  const narrow = width < narrowColumn;
  const colour = ({ judgement }: Reading) =>
    judgement.endsWith('late') ? 'var(--late)' : judgement.endsWith('early') ? 'var(--early)' : 'var(--ink)';
  const hollow = ({ judgement }: Reading) => judgement.startsWith('maybe');
  return {
    domain: [columns[0]?.from ?? 0, columns.at(-1)?.to ?? 1] as [number, number],
    marks: [
      // A joint between two sectors is drawn as one on a sheet of drawings: a line with a bolt at either end.
      Plot.ruleX(columns.slice(1), { x: 'from', stroke: 'var(--rule)' }),
      Plot.dot(
        columns
          .slice(1)
          .flatMap(({ from }) => [-1, 1].map((side) => ({ from, y: side * limitMs * headroom }))),
        { x: 'from', y: 'y', r: 2.2, fill: 'var(--ground)', stroke: 'var(--quiet)' },
      ),
      Plot.rect(
        measured.filter(({ group }) => group.ci95Ms !== null),
        {
          x1: edge(0.06),
          x2: edge(0.94),
          y1: ({ group }: Reading) => inside(group.meanMs! - group.ci95Ms!),
          y2: ({ group }: Reading) => inside(group.meanMs! + group.ci95Ms!),
          fill: colour,
          fillOpacity: 0.25,
        },
      ),
      Plot.link(measured, {
        x1: edge(0.06),
        x2: edge(0.94),
        y1: mean,
        y2: mean,
        stroke: colour,
        strokeWidth: 2.2,
      }),
      Plot.dot(measured, {
        x: edge(0.5),
        y: mean,
        r: 4.2,
        symbol: ({ judgement }: Reading) => (/late|early/.test(judgement) ? 'triangle' : 'circle'),
        rotate: ({ judgement }: Reading) => (judgement.endsWith('early') ? 180 : 0),
        fill: (reading: Reading) => (hollow(reading) ? 'var(--ground)' : colour(reading)),
        stroke: colour,
        strokeWidth: 1.3,
      }),
      Plot.text(columns, {
        x: ({ from, to }: SectorExtent) => (from + to) / 2,
        frameAnchor: 'bottom',
        dy: 14,
        text: ({ sector }: SectorExtent) => plain(sector),
        fill: 'var(--ink)',
        fontWeight: 600,
      }),
      Plot.text(shown, {
        x: edge(0.5),
        frameAnchor: 'bottom',
        dy: 28,
        text: ({ group }: Reading) =>
          group.meanMs === null
            ? narrow
              ? '–'
              : 'not measured'
            : narrow
              ? withInterval(group.meanMs, null).replace(/ ±.*/, '')
              : withInterval(group.meanMs, group.ci95Ms),
        fill: 'var(--quiet)',
        fontSize: narrow ? 9.5 : 11,
      }),
    ] as Plot.Markish[],
  };
}
