/** A comparison as the content of a page: what moved in one sentence, both takes over each other, and the same as a table. */
import { compareReports, type Comparison } from '../../analysis/report/compare.ts';
import { channelsInBoth, countWords, drawInBoth } from '../../analysis/report/comparison-plot.ts';
import {
  chanceWords,
  comparisonHead,
  methodNote,
  toleranceWords,
} from '../../analysis/report/comparison-text.ts';
import { oneLine } from '../../analysis/report/markdown-text.ts';
import { toleranceWords as widthWords } from '../../analysis/report/panel.ts';
import { withInterval } from '../../analysis/report/reading.ts';
import type { Finding, Report } from '../../analysis/results/results.ts';
import { withMinus } from '../../analysis/words/minus.ts';
import { emptyDocument } from './empty-document.ts';
import { themePalette } from './theme-palette.ts';

/**
 * @param names what the two are called, before and after
 * @returns markup without script, style or address; every name in it is text
 */
export function comparisonPage(before: Report, after: Report, names: readonly [string, string]): string {
  const comparison = compareReports(before, after);
  const document = emptyDocument();
  const make = (
    name: string,
    attributes: Readonly<Record<string, string>>,
    ...contents: (Node | string)[]
  ) => {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...contents.map((each) => (typeof each === 'string' ? plain(each) : each)));
    return made;
  };
  const table = (
    heads: readonly string[],
    rows: readonly (readonly string[])[],
    figures: readonly number[],
  ) =>
    make(
      'div',
      { class: 'across' },
      make(
        'table',
        {},
        make('thead', {}, make('tr', {}, ...heads.map((head) => make('th', { scope: 'col' }, head)))),
        make(
          'tbody',
          {},
          ...rows.map((cells) =>
            make(
              'tr',
              {},
              ...cells.map((cell, i) =>
                i === 0
                  ? make('th', { scope: 'row' }, cell)
                  : make('td', figures.includes(i) ? { class: 'number' } : {}, cell),
              ),
            ),
          ),
        ),
      ),
    );
  const palette = { ...themePalette, band: 'var(--band)' };
  const panels = channelsInBoth(comparison, before, after).flatMap((own) => [
    make(
      'h3',
      {},
      own.channel.name,
      make('span', { class: 'quiet' }, ` ${widthWords(own.channel)} · ${countWords(own)}`),
    ),
    make('div', { class: 'in-both' }, drawInBoth(own, [before, after], palette, document)),
  ]);
  const head = comparisonHead(comparison);
  const page = make(
    'main',
    {},
    make('h1', { class: 'verdict' }, head[head.length - 1]),
    make('p', { class: 'quiet' }, `${names[0]} → ${names[1]}. ${head.slice(0, -1).join(' ')}`),
    ...(panels.length === 0
      ? []
      : [
          make('h2', {}, 'Both over each other'),
          make(
            'p',
            { class: 'quiet' },
            `Rings and broken lines: ${names[0]}. Dots and whole lines: ${names[1]}. Lateness in ms along the barrel, each mean with its 95 % interval; the field is the tolerance; an arrow where a mean moved by more than chance.`,
          ),
          ...panels,
          make('h2', {}, 'The same as a table'),
          table(
            ['channel', 'sector', 'before, ms', 'after, ms', 'moved, ms', '', 'tolerance'],
            groupRows(comparison),
            [2, 3, 4],
          ),
        ]),
    make('h2', {}, 'Settings that changed'),
    comparison.settings.length === 0
      ? make('p', {}, 'None.')
      : table(['adjuster', 'before', 'after'], settingRows(comparison), [1, 2]),
    ...findings('Findings that came', comparison.came),
    ...findings('Findings that went', comparison.went),
    make('p', { class: 'quiet' }, methodNote),
  );
  return page.outerHTML;

  function findings(title: string, list: readonly Finding[]): Node[] {
    const rows = list.map(({ severity, message }) => make('li', {}, `${severity}: ${message}`));
    return [make('h2', {}, title), rows.length === 0 ? make('p', {}, 'None.') : make('ul', {}, ...rows)];
  }
}

function groupRows({ groups }: Comparison): string[][] {
  return groups.map((group) => [
    group.name,
    group.sector,
    withInterval(group.beforeMs, group.beforeCi95Ms),
    withInterval(group.afterMs, group.afterCi95Ms),
    withInterval(group.movedMs, group.movedCi95Ms),
    chanceWords(group),
    toleranceWords(group),
  ]);
}

function settingRows({ settings }: Comparison): string[][] {
  return settings.map(({ adjuster, before, after }) => [
    adjuster,
    withMinus(before ?? '–'),
    withMinus(after ?? '–'),
  ]);
}

/** Text turners and control characters would let a name rewrite what stands beside it; spaces between words stay. */
function plain(text: string): string {
  const line = oneLine(text);
  return `${/^\s/.test(text) ? ' ' : ''}${line}`;
}
