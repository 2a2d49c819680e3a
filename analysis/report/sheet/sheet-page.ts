/**
 * The work sheet as one HTML file: nothing loads, no script runs, and it prints on A4 or Letter without cut lines. Large
 * enough to read at arm's length; ticked with a pencil, or with a finger on a phone.
 */
import { drawBarrel, mostPins } from './barrel-drawing.ts';
import { marked, sheetFile } from '../own-file.ts';
import { withMinus } from '../../words/minus.ts';
import type { SheetOpening, Task } from './openings.ts';
import type { Sheet } from './sheet.ts';

/** Plain colours: it is printed, and read in daylight. */
const style = `
  :root { color-scheme: light; font: 20px/1.4 'Source Sans 3', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif; }
  body { margin: 0 auto; max-width: 46rem; padding: 1rem; color: #1d2429; background: white; overflow-wrap: anywhere; }
  h1 { font-size: 1.5rem; margin: 0.6rem 0 0; } h2 { font-size: 1.2rem; margin: 1.4rem 0 0.3rem; } p { margin: 0.3rem 0; }
  .safety { border: 3px solid #1d2429; padding: 0.5rem 0.7rem; font-weight: 600; font-size: 0.9rem; }
  .quiet { color: #4a555d; font-size: 0.85rem; }
  ol, ul { list-style: none; margin: 0; padding: 0; }
  li { border-top: 1px solid #c3cacf; padding: 0.6rem 0; break-inside: avoid; }
  label { display: block; padding-left: 2.4rem; position: relative; }
  input { position: absolute; left: 0; top: 0.15rem; width: 1.6rem; height: 1.6rem; margin: 0; }
  .task { font-size: 1.35rem; font-weight: 700; }
  .fitted { display: block; padding: 0.6rem 0 0 2.4rem; }
  .blank { display: inline-block; min-width: 7rem; border-bottom: 2px solid #1d2429; height: 1.2rem; }
  .open { font-weight: 700; border-bottom: 3px solid #1d2429; margin-top: 1rem; break-after: avoid; }
  code { font-size: 0.85rem; }
  .barrel { overflow-x: auto; } .barrel svg { display: block; min-width: 40rem; width: 100%; height: auto; }
  @media print {
    :root { font-size: 12pt; } body { max-width: none; padding: 0; } @page { margin: 14mm; }
    .barrel { overflow: visible; } .barrel svg { min-width: 0; }
    h2 { break-after: avoid; } .safety { break-inside: avoid; }
    input { appearance: none; border: 2px solid #1d2429; background: white; }
  }
`;

/**
 * @param document empty; to make elements in
 * @returns the file's text
 */
export function renderSheet(sheet: Sheet, tune: string | undefined, document: Document): string {
  const make = <K extends keyof HTMLElementTagNameMap>(
    name: K,
    attributes: Readonly<Record<string, string>> = {},
    ...content: readonly (string | Node)[]
  ): HTMLElementTagNameMap[K] => {
    const element = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    element.append(...content);
    return element;
  };
  const minutes = (value: number) => `${+value.toFixed(1)} min`;
  const tick = (...content: (string | Node)[]) =>
    make('label', {}, make('input', { type: 'checkbox' }), ...content);
  const blank = () => make('span', { class: 'blank' });

  const task = ({ adjuster, name, from, to, what, why }: Task) =>
    make(
      'li',
      {},
      tick(
        make('span', { class: 'task' }, `${adjuster}: from ${withMinus(from)} to ${withMinus(to)}`),
        make('p', {}, `${what[0].toUpperCase()}${what.slice(1)}${name === null ? '' : ` (${name})`}.`),
        ...(why === null ? [] : [make('p', { class: 'quiet' }, `${why}.`)]),
      ),
      make('span', { class: 'fitted' }, 'Really fitted: ', blank()),
    );
  const opening = ({ access, minutes: open, tasks }: SheetOpening) => [
    ...(access === null
      ? []
      : [make('p', { class: 'open' }, `Open ${access}${open === null ? '' : ` (${minutes(open)})`}`)]),
    make('ol', {}, ...tasks.map(task)),
  ];
  const list = (items: readonly (string | Node)[]) =>
    make('ul', {}, ...items.map((item) => make('li', {}, item)));

  const { openings, pins, doubts, record, changed } = sheet;
  const facts = [
    `take ${sheet.take}`,
    ...(sheet.recorded === null ? [] : [`recorded ${sheet.recorded.slice(0, 10)}`]),
    ...(sheet.minutes === null ? [] : [`about ${minutes(sheet.minutes)} of work`]),
  ];
  const body = make(
    'main',
    {},
    make('p', { class: 'safety' }, sheet.safety),
    make('h1', {}, sheet.machine),
    make('p', { class: 'quiet' }, facts.join(' · ')),
    make('p', {}, make('strong', {}, sheet.verdict)),
    make('h2', {}, 'What to change'),
    make('p', {}, sheet.summary),
    ...openings.flatMap(opening),
    ...(pins.length === 0
      ? []
      : [
          make('h2', {}, 'Pins to move or re-seat'),
          list(
            pins.map(({ where, what }) =>
              tick(
                make('span', { class: 'task' }, `${where[0].toUpperCase()}${where.slice(1)}`),
                make('p', {}, `${what}.`),
              ),
            ),
          ),
        ]),
    ...(doubts.length === 0
      ? []
      : [make('h2', {}, 'In doubt: leave alone until it is settled'), list(doubts)]),
    make('h2', {}, 'Then'),
    list([
      ...(changed.length === 0
        ? []
        : [
            make(
              'p',
              {},
              'Put down what was really fitted: in the editor, “Enter Settings Really Fitted”; in a terminal, ',
              make('code', {}, `shimwright advise . --apply ${changed.map((id) => `${id}=…`).join(' ')}`),
            ),
          ]),
      ...record,
    ]),
    make('p', {}, 'Date: ', blank(), ' Done by: ', blank()),
    ...(sheet.laid.length > mostPins
      ? []
      : [
          make('h2', {}, `The barrel unrolled${tune === undefined ? '' : `: ${tune}`}`),
          make('div', { class: 'barrel' }, drawBarrel(sheet.view, sheet.laid, document)),
        ]),
  );
  // Made by hand: not every document escapes what stands in a title.
  const title = `${sheet.machine}: work sheet`.replace(/[&<>]/g, (mark) => `&#${mark.charCodeAt(0)};`);
  const text = `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'">
<title>${title}</title>
<style>${style}</style>
</head>
<body>
${body.outerHTML}
</body>
</html>
`;
  return marked(sheetFile, text);
}
