/** A check's plot on the page, in the editor's own colours, and its points as a table for those who hear the page. */
import { drawSectionPlot } from '../../analysis/report/section-plot.ts';
import type { SectionPlot } from '../../analysis/results/results.ts';
import { make, plain } from './element.ts';
import { placed } from './picture.ts';

const look = {
  ink: 'var(--ink)',
  quiet: 'var(--quiet)',
  rule: 'var(--rule)',
  ground: 'var(--ground)',
  fonts: 'inherit',
};
const height = 230;
const widest = 760;
/** More rows tell nobody anything; the picture and the sentences do. */
const mostRows = 300;

/** Draws into the box, as wide as it is. */
export function drawInto(box: HTMLElement, plot: SectionPlot, words: string): void {
  const width = Math.max(320, Math.min(widest, box.clientWidth));
  box.replaceChildren(placed(drawSectionPlot(inert(plot), { ...look, width, height }), words));
}

/** A fold with every point; it is filled when it is opened. */
export function pointsTable(plot: SectionPlot): HTMLElement {
  const fold = make('details', {}, make('summary', {}, 'The same as a table'));
  fold.addEventListener(
    'toggle',
    () => {
      const rows = plot.series.flatMap(({ name, points }) =>
        points.map(([x, y]) => [name, figure(x), figure(y)]),
      );
      fold.append(
        make('div', { class: 'across' }, tableOf(['', plot.xLabel, plot.yLabel], rows.slice(0, mostRows))),
      );
      if (rows.length > mostRows)
        fold.append(make('p', { class: 'quiet' }, `${rows.length - mostRows} more are in report.json.`));
    },
    { once: true },
  );
  return fold;
}

/** The first cell of each row is its heading. */
export function tableOf(columns: readonly string[], rows: readonly (readonly string[])[]): HTMLElement {
  return make(
    'table',
    {},
    make('thead', {}, make('tr', {}, ...columns.map((head) => make('th', { scope: 'col' }, head)))),
    make(
      'tbody',
      {},
      ...rows.map(([first, ...rest]) =>
        make(
          'tr',
          {},
          make('th', { scope: 'row' }, first),
          ...rest.map((cell) => make('td', { class: 'number' }, cell)),
        ),
      ),
    ),
  );
}

function inert(plot: SectionPlot): SectionPlot {
  return {
    ...plot,
    xLabel: plain(plot.xLabel),
    yLabel: plain(plot.yLabel),
    rules: plot.rules?.map((rule) => ({ ...rule, name: plain(rule.name) })),
    series: plot.series.map((series) => ({ ...series, name: plain(series.name) })),
  };
}

function figure(value: number | null): string {
  return value === null ? '–' : `${Number(value.toPrecision(5))}`.replace('-', '−');
}
