/** What each group is predicted to do once the advice is followed: a line from measured to predicted, and the same as a table. */
import * as Plot from '@observablehq/plot';
import { defaultToleranceMs } from '../../analysis/machine/tolerance.ts';
import {
  type Judgement,
  judge,
  judgementWords,
  signed,
  withInterval,
} from '../../analysis/report/reading.ts';
import type { Advice } from '../../analysis/results/results.ts';
import { make, plain } from './element.ts';
import { placed } from './picture.ts';
import type { TakeModel } from './take-model.ts';

type Row = Advice['predicted'][number] & {
  readonly i: number;
  readonly tolerance: number;
  readonly kind: Judgement;
};

/** @returns null where nothing is predicted */
export function predictedPart(
  model: TakeModel,
  advice: Advice,
): { readonly elements: readonly HTMLElement[]; draw(): void } | null {
  if (advice.predicted.length === 0) return null;
  const picture = make('div', { class: 'picture' });
  const elements = [
    make('h3', {}, 'Before and after, as predicted'),
    make(
      'p',
      { class: 'quiet' },
      'Each line runs from the lateness that the take measured (ring) to the one predicted (dot, with its 95 % interval), in ms; the field is the tolerance.',
    ),
    picture,
    make(
      'details',
      {},
      make('summary', {}, 'The same as a table'),
      make('div', { class: 'across' }, table()),
    ),
  ];
  return { elements, draw };

  function table(): HTMLElement {
    const rows = advice.predicted.map((row) => {
      const tolerance = toleranceOf(row);
      return make(
        'tr',
        {},
        make('th', { scope: 'row' }, model.nameOf(row.channel)),
        make('td', {}, row.sector),
        make('td', { class: 'number' }, signed(row.beforeMs)),
        make('td', { class: 'number' }, withInterval(row.afterMs, row.ci95Ms)),
        make('td', {}, judgementWords[judge(row.afterMs, row.ci95Ms, tolerance)].toLowerCase()),
      );
    });
    const heads = ['Channel', 'Sector', 'Measured, ms', 'Predicted, ms', ''];
    return make(
      'table',
      {},
      make('thead', {}, make('tr', {}, ...heads.map((head) => make('th', { scope: 'col' }, head)))),
      make('tbody', {}, ...rows),
    );
  }

  function toleranceOf({ channel, toleranceMs }: (typeof advice.predicted)[number]): number {
    return toleranceMs ?? model.channels.find(({ id }) => id === channel)?.toleranceMs ?? defaultToleranceMs;
  }

  function draw(): void {
    const rows = advice.predicted.map((row, i): Row => {
      const tolerance = toleranceOf(row);
      const kind = judge(row.afterMs, row.ci95Ms, tolerance);
      return { ...row, i, tolerance, kind };
    });
    const known = rows.filter(({ beforeMs, afterMs }) => beforeMs !== null && afterMs !== null);
    const sizes = known.flatMap((row) => [
      Math.abs(row.beforeMs!),
      Math.abs(row.afterMs!) + (row.ci95Ms ?? 0),
    ]);
    const limit = Math.max(1, ...sizes, ...rows.map(({ tolerance }) => tolerance)) * 1.08;
    // Where many, the groups of a channel share a line each; its sectors stand in order along it.
    const rowHeight = rows.length > 60 ? 9 : 15;
    // A channel's name stands once, at its first sector.
    const isFirst = ({ i, channel }: Row) => i === 0 || rows[i - 1].channel !== channel;
    const colour = ({ kind }: Row) =>
      kind === 'within' || kind === 'unknown'
        ? 'var(--ink)'
        : kind.endsWith('late')
          ? 'var(--late)'
          : 'var(--early)';
    const width = Math.max(320, Math.min(760, picture.clientWidth));
    const plot = Plot.plot({
      width,
      height: 34 + rows.length * rowHeight,
      marginLeft: 158,
      marginRight: 12,
      marginTop: 22,
      marginBottom: 6,
      style: { background: 'none', color: 'var(--ink)', fontFamily: 'inherit' },
      x: { domain: [-limit, limit], axis: null },
      y: { domain: [-0.5, rows.length - 0.5], reverse: true, axis: null },
      marks: [
        Plot.rect(rows, {
          x1: ({ tolerance }: Row) => -tolerance,
          x2: ({ tolerance }: Row) => tolerance,
          y1: ({ i }: Row) => i - 0.5,
          y2: ({ i }: Row) => i + 0.5,
          fill: 'var(--band)',
        }),
        Plot.axisX({
          anchor: 'top',
          ticks: 7,
          label: null,
          tickSize: 3,
          tickFormat: (ms: number) => (ms === 0 ? 'due' : `${ms > 0 ? '+' : '−'}${Math.abs(ms)}`),
          color: 'var(--quiet)',
        }),
        Plot.ruleX([0], { stroke: 'var(--ink)', strokeWidth: 0.8 }),
        Plot.ruleY(rows.filter(isFirst), { y: ({ i }: Row) => i - 0.5, stroke: 'var(--rule)' }),
        Plot.text(rows.filter(isFirst), {
          x: -limit,
          y: 'i',
          text: ({ channel }: Row) => short(model.nameOf(channel)),
          textAnchor: 'end',
          dx: -34,
          fill: 'var(--ink)',
          fontSize: 11,
        }),
        Plot.text(rows, {
          x: -limit,
          y: 'i',
          text: ({ sector }: Row) => plain(sector).slice(0, 3),
          textAnchor: 'end',
          dx: -8,
          fill: 'var(--quiet)',
          fontSize: rowHeight > 10 ? 10.5 : 8.5,
        }),
        Plot.link(known, {
          x1: 'beforeMs',
          x2: 'afterMs',
          y1: 'i',
          y2: 'i',
          stroke: 'var(--quiet)',
          strokeWidth: 1,
          strokeDasharray: '1 3',
        }),
        Plot.link(
          known.filter(({ ci95Ms }) => ci95Ms !== null),
          {
            x1: ({ afterMs, ci95Ms }: Row) => afterMs! - ci95Ms!,
            x2: ({ afterMs, ci95Ms }: Row) => afterMs! + ci95Ms!,
            y1: 'i',
            y2: 'i',
            stroke: colour,
            strokeWidth: 2.4,
            strokeOpacity: 0.55,
          },
        ),
        Plot.dot(known, { x: 'beforeMs', y: 'i', r: 3, stroke: 'var(--quiet)', fill: 'none' }),
        Plot.dot(known, {
          x: 'afterMs',
          y: 'i',
          r: 3.4,
          fill: colour,
          symbol: ({ kind }: Row) => (/late|early/.test(kind) ? 'triangle' : 'circle'),
          rotate: ({ kind }: Row) => (kind.endsWith('early') ? 180 : 0),
        }),
      ],
    });
    picture.replaceChildren(
      placed(plot, 'Lateness measured and predicted, for each group; the table below says the same.'),
    );
  }
}

function short(name: string): string {
  const text = plain(name);
  return text.length > 18 ? `${text.slice(0, 17)}…` : text;
}
