/** One channel's panel of the lateness plot: strokes where their pins stand on the barrel, means, tolerance. */
import * as Plot from '@observablehq/plot';
import type { HitRow } from '../results/results.ts';
import { type ChannelFacts, type Judgement, type Reading, cut, figures, withInterval } from './reading.ts';

/**
 * Colours that stay apart for the common kinds of colour blindness, in print and in grey. Direction and shape always
 * say the same thing as the colour.
 */
export const colours = {
  ink: '#1d2429',
  quiet: '#5f6a72',
  rule: '#c3cacf',
  band: '#e6eee2',
  bandEdge: '#86a07c',
  stroke: '#4d5a63',
  within: '#1b5e56',
  late: '#b0410a',
  early: '#54318f',
} as const;

export const fonts = "'Source Sans 3', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif";

/** A sector's place along a panel. */
export interface SectorExtent {
  readonly sector: string;
  /** Steps, unwrapped: the last sector may reach past the barrel's last step. Where a report has no barrel, each is 1 long. */
  readonly from: number;
  readonly to: number;
}

export interface Panel {
  readonly channel: ChannelFacts;
  readonly readings: readonly Reading[];
  /** The channel's used strokes. */
  readonly strokes: readonly HitRow[];
  /** Lateness at the panel's upper edge, ms; the lower edge is as early. */
  readonly limitMs: number;
}

export interface PanelFrame {
  readonly columns: readonly SectorExtent[];
  /** Where along the panel a stroke's pin stands. */
  readonly placeOf: (stroke: HitRow) => number;
  /** More strokes than this in one panel: dots of one place are drawn as one, darker. */
  readonly strokesToThin: number;
  readonly width: number;
  readonly height: number;
  readonly document: Document;
}

const marginLeft = 40;
const marginRight = 8;
/** A panel reaches so many times beyond its limit, so that marks on the limit are whole. */
export const headroom = 1.1;

/** Cells along and across a panel into which strokes are gathered when they are many. */
const thinAlong = 60;
const thinAcross = 40;

export interface Dot {
  readonly x: number;
  readonly y: number;
  /** 0 to 1 where several strokes share the dot, null where it is one. */
  readonly shade: number | null;
}

const shapeOf: Readonly<Record<Judgement, 'late' | 'early' | 'within'>> = {
  within: 'within',
  late: 'late',
  'maybe-late': 'late',
  early: 'early',
  'maybe-early': 'early',
  'maybe-either': 'within',
  unknown: 'within',
};

/** @returns an `svg` element of the frame's size */
export function drawPanel(panel: Panel, frame: PanelFrame): Element {
  const { columns, width, height, document } = frame;
  const { limitMs, channel, readings } = panel;
  const columnOf = new Map(columns.map((column) => [column.sector, column]));
  const middle = ({ sector }: Reading) => (columnOf.get(sector)!.from + columnOf.get(sector)!.to) / 2;
  const inside = (ms: number) => Math.max(-limitMs, Math.min(limitMs, ms));
  const measured = readings.filter(({ group }) => group.meanMs !== null);
  const unmeasured = readings.filter(({ group }) => group.meanMs === null);
  const mean = ({ group }: Reading) => inside(group.meanMs!);
  const colour = ({ judgement }: Reading) => colours[shapeOf[judgement]];
  const tolerance = Math.min(channel.toleranceMs, limitMs);
  const start = columns[0].from;
  const end = columns[columns.length - 1].to;
  const dots = dotsOf(panel, frame);
  const thinned = dots.some(({ shade }) => shade !== null);
  const columnWidth = (width - marginLeft - marginRight) / columns.length;
  const narrow = columnWidth < 96;
  const room = Math.floor(columnWidth / 6.5);
  const under = {
    x: middle,
    frameAnchor: 'bottom' as const,
    dy: 29,
    fontSize: narrow ? 10 : 11,
  };
  const figuresOf = (rows: readonly Reading[], fontWeight: number) =>
    Plot.text(rows, {
      ...under,
      text: ({ group }: Reading) =>
        narrow ? short(group.meanMs!) : withInterval(group.meanMs, group.ci95Ms),
      fill: colour,
      fontWeight,
    });

  return Plot.plot({
    document,
    className: 'panel',
    width,
    height,
    marginLeft,
    marginRight,
    marginTop: 8,
    marginBottom: 36,
    style: { fontFamily: fonts, color: colours.ink, background: 'none' },
    x: { domain: [start, end], axis: null },
    y: { domain: [-limitMs * headroom, limitMs * headroom], axis: null },
    opacity: { type: 'identity' },
    marks: [
      Plot.rect([0], { x1: start, x2: end, y1: -tolerance, y2: tolerance, fill: colours.band }),
      Plot.ruleY([-tolerance, tolerance], {
        stroke: colours.bandEdge,
        strokeDasharray: '5 3',
        strokeWidth: 0.8,
      }),
      Plot.ruleX([start, ...columns.map(({ to }) => to)], { stroke: colours.rule, strokeWidth: 0.8 }),
      Plot.ruleY([0], { stroke: colours.ink, strokeWidth: 0.9 }),
      Plot.axisY(ticks(limitMs), {
        tickFormat: (ms: number) => (ms === 0 ? '0' : `${ms > 0 ? '+' : '−'}${Math.abs(ms)}`),
        tickSize: 4,
        label: null,
        color: colours.quiet,
        fontSize: 10,
      }),
      Plot.dot(dots, {
        x: 'x',
        y: 'y',
        r: thinned ? 1.7 : 2.3,
        fill: colours.stroke,
        fillOpacity: thinned ? 'shade' : 0.42,
        className: 'strokes',
      }),
      Plot.rect(
        measured.filter(({ group }) => group.ci95Ms !== null),
        {
          x1: (reading: Reading) => edge(columnOf.get(reading.sector)!, 0.08),
          x2: (reading: Reading) => edge(columnOf.get(reading.sector)!, 0.92),
          y1: ({ group }: Reading) => inside(group.meanMs! - group.ci95Ms!),
          y2: ({ group }: Reading) => inside(group.meanMs! + group.ci95Ms!),
          fill: colour,
          fillOpacity: 0.28,
        },
      ),
      Plot.link(measured, {
        x1: (reading: Reading) => edge(columnOf.get(reading.sector)!, 0.08),
        x2: (reading: Reading) => edge(columnOf.get(reading.sector)!, 0.92),
        y1: mean,
        y2: mean,
        stroke: colour,
        strokeWidth: 2,
      }),
      // Filled where it is sure, hollow where the interval reaches across the limit.
      Plot.dot(measured, {
        x: middle,
        y: mean,
        r: 4,
        symbol: ({ judgement }: Reading) => (shapeOf[judgement] === 'within' ? 'circle' : 'triangle'),
        rotate: ({ judgement }: Reading) => (shapeOf[judgement] === 'early' ? 180 : 0),
        fill: (reading: Reading) => (isSure(reading) ? colour(reading) : 'white'),
        stroke: (reading: Reading) => (isSure(reading) ? 'white' : colour(reading)),
        strokeWidth: 1.3,
      }),
      Plot.text(columns, {
        x: ({ from, to }: SectorExtent) => (from + to) / 2,
        frameAnchor: 'bottom',
        text: ({ sector }: SectorExtent) => cut(sector, room),
        dy: 14,
        fill: colours.ink,
        fontSize: 11,
        fontWeight: 600,
      }),
      figuresOf(
        measured.filter(({ judgement }) => judgement === 'within'),
        400,
      ),
      figuresOf(
        measured.filter(({ judgement }) => judgement !== 'within'),
        700,
      ),
      Plot.text(unmeasured, {
        ...under,
        text: () => (narrow ? '–' : 'not measured'),
        fill: colours.quiet,
      }),
    ],
  });
}

function isSure({ judgement }: Reading): boolean {
  return !judgement.startsWith('maybe');
}

function edge({ from, to }: SectorExtent, share: number): number {
  return from + (to - from) * share;
}

function short(ms: number): string {
  const text = Math.abs(ms).toFixed(1);
  return Number(text) === 0 ? '0' : `${ms < 0 ? '−' : '+'}${text}`;
}

/** Zero and one or two round values either side, ms. */
export function ticks(limitMs: number): number[] {
  const rough = limitMs / 2;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [5, 2, 1].map((m) => m * power).find((s) => s <= rough * 1.001) ?? power;
  const count = Math.floor((limitMs * headroom) / step);
  return Array.from({ length: 2 * count + 1 }, (_, i) => Number(((i - count) * step).toPrecision(6)));
}

/** Strokes as dots; those beyond the panel are drawn at its edge. */
export function dotsOf(
  { strokes, limitMs }: Pick<Panel, 'strokes' | 'limitMs'>,
  { placeOf, columns, strokesToThin }: Pick<PanelFrame, 'placeOf' | 'columns' | 'strokesToThin'>,
): Dot[] {
  const edgeMs = limitMs * (headroom - 0.03);
  const place = (stroke: HitRow) => ({
    x: placeOf(stroke),
    y: Math.max(-edgeMs, Math.min(edgeMs, stroke.latenessMs!)),
  });
  if (strokes.length <= strokesToThin) return strokes.map((stroke) => ({ ...place(stroke), shade: null }));
  const cellX = (columns[columns.length - 1].to - columns[0].from) / thinAlong;
  const cellY = (2 * edgeMs) / thinAcross;
  const cells = new Map<string, { x: number; y: number; count: number }>();
  for (const stroke of strokes) {
    const { x, y } = place(stroke);
    const along = Math.floor((x - columns[0].from) / cellX);
    const across = Math.round(y / cellY);
    const cell = cells.get(`${along},${across}`);
    if (cell !== undefined) cell.count++;
    else
      cells.set(`${along},${across}`, {
        x: columns[0].from + (along + 0.5) * cellX,
        y: across * cellY,
        count: 1,
      });
  }
  const most = Math.max(...[...cells.values()].map(({ count }) => count));
  return [...cells.values()].map(({ x, y, count }) => ({
    x,
    y,
    shade: 0.12 + 0.6 * Math.sqrt(count / most),
  }));
}

/** "tolerance ±2.00 ms" */
export function toleranceWords({ toleranceMs }: ChannelFacts): string {
  return `tolerance ±${figures(toleranceMs)} ms`;
}
