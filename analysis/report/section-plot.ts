/** One check's plot: points, lines, intervals and rules through Observable Plot, for the picture file and for the page. */
import * as Plot from '@observablehq/plot';
import type { SectionPlot } from '../results/results.ts';
import { cut } from './reading.ts';

/** What the plot is drawn with: fixed colours in a file, the editor's own on the page. */
export interface SectionLook {
  readonly ink: string;
  readonly quiet: string;
  readonly rule: string;
  readonly ground: string;
  readonly fonts: string;
}

export interface SectionFrame extends SectionLook {
  readonly width: number;
  readonly height: number;
  /** Absent: the page's own. */
  readonly document?: Document;
}

interface Dot {
  readonly x: number;
  readonly y: number;
  readonly half: number | null;
}

/** Series are told apart by shape and by dash, never by colour. */
const shapes = ['circle', 'diamond', 'triangle', 'square', 'cross'] as const;
const dashes = ['none', '5 3', '2 3', '8 3 2 3'];
const letter = 5.9;
const row = 15;
const flagRow = 13;
const marginLeft = 48;
const leastMarginRight = 12;

/** @returns an `svg` element; where nothing is known that could be drawn, one that says so */
export function drawSectionPlot(plot: SectionPlot, frame: SectionFrame): SVGSVGElement | HTMLElement {
  const { width, height, ink, quiet, rule, ground } = frame;
  const log = plot.scale === 'logarithmic';
  const series = plot.series.map(({ name, line, points, ci95 }) => ({
    name,
    line: line === true,
    dots: points.flatMap(([x, y], i): Dot[] =>
      x === null || y === null || (log && !(x > 0 && y > 0)) ? [] : [{ x, y, half: ci95?.[i] ?? null }],
    ),
  }));
  const drawn = series.filter(({ dots }) => dots.length > 0);
  // Parts of one series go by one name, and so by one shape.
  const names = [...new Set(drawn.map(({ name }) => name))];
  const shapeOf = (name: string) => names.indexOf(name);
  const rules = plot.rules ?? [];
  const key = keyOf(
    names.map((name) => ({ name, line: drawn.some((one) => one.name === name && one.line) })),
    width - marginLeft,
  );
  const [xs, ys] = extents(drawn.flatMap(({ dots }) => dots));
  const upright = rules.filter((one) => one.axis === 'x');
  const level = rules.filter((one) => one.axis === 'y');
  // Names of level rules stand beside the frame, where nothing is drawn.
  const marginRight = Math.max(
    leastMarginRight,
    ...level.map(({ name }) => (name === '' ? 0 : 12 + 5.4 * name.length)),
  );
  const domain = { x: padded(xs, upright, log), y: padded(ys, level, log) };
  const flags = flagsOf(upright, domain.x, log, width, marginRight);
  const flagRows = 1 + Math.max(-1, ...flags.map(({ row }) => row));
  // From the top: what is shown, the key, the names of upright rules, the frame.
  const headRows = 1 + (names.length > 1 ? 1 + key.at(-1)!.row : 0);
  const marginTop = 6 + headRows * row + flagRows * flagRow + 4;
  const all = drawn.flatMap(({ dots }) => dots);
  const ticks = ([least, greatest]: Extent, values: readonly number[], count: number) =>
    log ? decades(least, greatest) : (wholeOnes(least, greatest, values) ?? count);
  const axis = { color: quiet, fontSize: 10, tickSize: 3, label: null };
  return Plot.plot({
    ...(frame.document === undefined ? {} : { document: frame.document }),
    className: 'panel',
    width,
    height,
    marginLeft,
    marginRight,
    marginTop,
    marginBottom: 38,
    style: { fontFamily: frame.fonts, color: ink, background: 'none' },
    x: { type: log ? 'log' : 'linear', domain: domain.x, axis: null },
    y: { type: log ? 'log' : 'linear', domain: domain.y, axis: null },
    marks: [
      Plot.frame({ stroke: rule, strokeWidth: 0.8, anchor: 'bottom' }),
      Plot.frame({ stroke: rule, strokeWidth: 0.8, anchor: 'left' }),
      Plot.axisX({
        ...axis,
        ticks: ticks(
          xs,
          all.map(({ x }) => x),
          6,
        ),
        tickFormat: figure,
      }),
      Plot.axisY({
        ...axis,
        ticks: ticks(
          ys,
          all.map(({ y }) => y),
          4,
        ),
        tickFormat: figure,
      }),
      ...flags.map(({ at, row }) =>
        Plot.ruleX([at], {
          stroke: quiet,
          strokeWidth: 0.9,
          strokeDasharray: '1 3',
          insetTop: -(row + 1) * flagRow,
        }),
      ),
      Plot.ruleY(level, { y: 'at', stroke: quiet, strokeWidth: 0.9, strokeDasharray: '1 3' }),
      ...drawn.flatMap(({ name, line, dots }) =>
        line
          ? [
              Plot.line(dots, {
                x: 'x',
                y: 'y',
                stroke: shapeOf(name) === 0 ? ink : quiet,
                strokeWidth: 1.3,
                strokeDasharray: dashes[shapeOf(name) % dashes.length],
              }),
              ...(dots.length === 1 ? [Plot.dot(dots, { x: 'x', y: 'y', r: 2, fill: ink })] : []),
            ]
          : [
              Plot.link(
                dots.filter(({ half }) => half !== null),
                {
                  x1: 'x',
                  x2: 'x',
                  y1: ({ y, half }: Dot) => y - half!,
                  y2: ({ y, half }: Dot) => y + half!,
                  stroke: ink,
                  strokeOpacity: 0.4,
                },
              ),
              Plot.dot(dots, {
                x: 'x',
                y: 'y',
                r: 2.6,
                symbol: shapes[shapeOf(name) % shapes.length],
                className: 'points',
                // The first is filled, others are hollow, so that they stay apart in grey too.
                fill: shapeOf(name) === 0 ? ink : ground,
                fillOpacity: 0.6,
                stroke: ink,
                strokeWidth: shapeOf(name) === 0 ? 0 : 1,
              }),
            ],
      ),
      ...flags
        .filter(({ name }) => name !== '')
        .map(({ at, name, row, side }) =>
          Plot.text([name], {
            x: at,
            frameAnchor: 'top',
            dx: side === 'start' ? 4 : -4,
            dy: 6 - (row + 1) * flagRow,
            text: (d: string) => d,
            textAnchor: side,
            fill: quiet,
            fontSize: 10,
          }),
        ),
      Plot.text(
        level.filter(({ name }) => name !== ''),
        {
          y: 'at',
          frameAnchor: 'right',
          text: 'name',
          textAnchor: 'start',
          dx: 6,
          fill: quiet,
          fontSize: 10,
        },
      ),
      Plot.text([plot.yLabel], {
        frameAnchor: 'top-left',
        dx: 8 - marginLeft,
        dy: 6 - marginTop,
        text: (d: string) => cut(d, Math.floor((width - 16) / letter)),
        textAnchor: 'start',
        fill: quiet,
        fontSize: 11,
      }),
      // One name needs no key: the title says what is drawn.
      ...(names.length < 2 ? [] : key).flatMap(({ name, x, row: keyRow, line }) => {
        const at = { frameAnchor: 'top-left' as const, dx: x, dy: 6 + (keyRow + 1) * row - marginTop };
        const i = shapeOf(name);
        const shape = line
          ? Plot.text([i === 0 ? '—' : '- -'], {
              ...at,
              text: (d: string) => d,
              textAnchor: 'start',
              fill: ink,
            })
          : Plot.dot([0], {
              ...at,
              dx: x + 5,
              dy: at.dy + 5,
              r: 3,
              symbol: shapes[i % shapes.length],
              fill: i === 0 ? ink : ground,
              stroke: ink,
              strokeWidth: i === 0 ? 0 : 1,
            });
        const label = { ...at, dx: x + 18, text: (d: string) => d, textAnchor: 'start' as const };
        return [shape, Plot.text([name], { ...label, fill: quiet, fontSize: 11 })];
      }),
      Plot.text([plot.xLabel], {
        frameAnchor: 'bottom',
        dy: 32,
        text: (d: string) => d,
        fill: quiet,
        fontSize: 11,
      }),
      drawn.length === 0
        ? Plot.text(['nothing to draw'], { frameAnchor: 'middle', text: (d: string) => d, fill: quiet })
        : null,
    ],
  });
}

interface Flag {
  readonly at: number;
  readonly name: string;
  readonly row: number;
  readonly side: 'start' | 'end';
}

/** Names of upright rules stand above the frame, each in the lowest row where it covers no other and no other's rule. */
function flagsOf(
  rules: readonly { readonly at: number; readonly name: string }[],
  [low, high]: Extent,
  log: boolean,
  width: number,
  marginRight: number,
): Flag[] {
  const to = (value: number) => (log ? Math.log(value) : value);
  const place = (at: number) =>
    marginLeft + ((to(at) - to(low)) / (to(high) - to(low))) * (width - marginLeft - marginRight);
  const taken: { row: number; from: number; to: number }[] = [];
  return [...rules]
    .sort((a, b) => a.at - b.at)
    .map(({ at, name }): Flag => {
      const px = place(at);
      const wide = name.length * 5.6 + 8;
      const side = px + wide > width && px - wide > 0 ? 'end' : 'start';
      const [from, end] = side === 'start' ? [px, px + wide] : [px - wide, px];
      let free = 0;
      if (name !== '') {
        while (taken.some((one) => one.row === free && one.from < end && one.to > from)) free++;
        taken.push({ row: free, from, to: end });
      } else free = -1;
      return { at, name, row: free, side };
    });
}

/** Where each name of the key stands: px from the plot's left, and its row. */
function keyOf(entries: readonly { readonly name: string; readonly line: boolean }[], width: number) {
  let [x, line] = [0, 0];
  return entries.map((entry) => {
    const name = cut(entry.name, Math.floor((width - 18) / letter));
    const wide = 18 + name.length * letter + 14;
    if (x > 0 && x + wide > width) [x, line] = [0, line + 1];
    const placed = { ...entry, name, x, row: line };
    x += wide;
    return placed;
  });
}

type Extent = readonly [number, number];

function extents(dots: readonly Dot[]): [Extent, Extent] {
  const of = (values: readonly number[]): Extent =>
    values.reduce<Extent>(
      ([low, high], value) => [Math.min(low, value), Math.max(high, value)],
      [Infinity, -Infinity],
    );
  if (dots.length === 0)
    return [
      [1, 2],
      [1, 2],
    ];
  return [
    of(dots.map(({ x }) => x)),
    of(dots.flatMap(({ y, half }) => (half === null ? [y] : [y - half, y + half]))),
  ];
}

/** A little room around what is drawn, its rules within. */
function padded([low, high]: Extent, rules: readonly { readonly at: number }[], log: boolean): Extent {
  const [least, greatest] = [
    Math.min(low, ...rules.map(({ at }) => at)),
    Math.max(high, ...rules.map(({ at }) => at)),
  ];
  if (log) {
    const by = Math.max(1.1, (greatest / least) ** 0.04);
    return [least / by, greatest * by];
  }
  const by = greatest > least ? 0.05 * (greatest - least) : Math.max(1, Math.abs(least) * 0.1);
  return [least - by, greatest + by];
}

/** Where few things are counted, every whole number; null where there are others, or many. */
function wholeOnes(least: number, greatest: number, values: readonly number[]): number[] | null {
  if (greatest - least > 8 || !values.every(Number.isInteger)) return null;
  return Array.from({ length: greatest - least + 1 }, (_, i) => least + i);
}

/** 1, 2 and 5 of every power of ten that is reached; powers alone where these are many. */
function decades(least: number, greatest: number): number[] {
  const [from, to] = [Math.floor(Math.log10(least)), Math.ceil(Math.log10(greatest))];
  const mantissas = to - from > 3 ? [1] : [1, 2, 5];
  return Array.from({ length: to - from + 1 }, (_, k) => from + k)
    .flatMap((power) => mantissas.map((m) => Number(`${m}e${power}`)))
    .filter((value) => value >= least / 1.2 && value <= greatest * 1.2);
}

function figure(value: number): string {
  return `${value < 0 ? '−' : ''}${Math.abs(Number(value.toPrecision(6)))}`;
}
