/**
 * Every hit as a table: the equivalent of the plots for those who read or hear figures. Only the rows on the screen
 * exist, so that 200 000 scroll as smoothly as 20.
 */
import { placeByKey } from './place-by-key.ts';
import { markerWords } from '../../analysis/report/marker-words.ts';
import { none } from '../protocol/page-report.ts';
import type { Context, Part } from './context.ts';
import { button, make, section } from './element.ts';
import { clock, latenessFigure, turnWords } from './stroke-words.ts';

const rowHeight = 24;
/** Rows kept ready above and below what is seen. */
const spare = 8;
const heads = ['Time', 'Channel', 'Lateness, ms', 'Sector', 'Step', 'Turn', 'State'] as const;

export function listPart(context: Context, chosenStroke: HTMLElement): Part {
  const { model, editor } = context;
  const { hits } = model;
  const spacer = make('div', { class: 'spacer' });
  const body = make('div', { class: 'rows', role: 'rowgroup' });
  const scroller = make(
    'div',
    {
      class: 'scroller',
      role: 'grid',
      tabindex: 0,
      'aria-label': 'List of strokes; arrow keys choose',
      'aria-colcount': heads.length,
    },
    make(
      'div',
      { class: 'row head', role: 'row', 'aria-rowindex': 1 },
      ...heads.map((head) => make('span', { role: 'columnheader' }, head)),
    ),
    make('div', { class: 'body' }, spacer, body),
  );
  const count = make('span', { class: 'quiet', role: 'status' });
  const asTable = make(
    'p',
    { class: 'actions' },
    button('All strokes as CSV', () => editor.send({ kind: 'open-strokes' }), {
      class: 'plain',
      title: 'For a spreadsheet; cells that it would take for a formula are text',
    }),
  );
  const orphan = make('div', { class: 'under-list' });
  const read = (model.head.markerFiles ?? []).map((file) =>
    make('p', { class: 'quiet' }, `Markers from ${file.file}: ${markerWords(file)}.`),
  );
  const element = section('list', 'List of strokes', controls(), scroller, asTable, orphan, ...read);
  let shown: Int32Array = new Int32Array(0);
  let firstDrawn = -1;
  let asked = false;

  scroller.addEventListener('scroll', () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      drawRows();
    });
  });
  scroller.addEventListener('click', (event) => {
    const row = (event.target as HTMLElement).closest<HTMLElement>('[data-hit]');
    if (row !== null) take(Number(row.dataset.hit));
  });
  scroller.addEventListener('keydown', (event) => {
    const page = Math.max(1, Math.floor(scroller.clientHeight / rowHeight) - 2);
    const now = context.choice.hit === null ? -1 : shown.indexOf(context.choice.hit);
    const steps = { ArrowDown: 1, ArrowUp: -1, PageDown: page, PageUp: -page };
    const next = placeByKey(event.key, now, shown.length, steps);
    if (next === null) return;
    event.preventDefault();
    take(shown[next]);
  });
  fill();

  return {
    element,
    chosen(from) {
      const { hit, channel } = context.choice;
      // A hit of no channel has no panel to stand under.
      if (hit !== null && channel === null) orphan.append(chosenStroke);
      const place = hit === null ? -1 : shown.indexOf(hit);
      if (place >= 0) bringIntoView(place, from === 'list');
      drawRows(true);
    },
    redraw: () => drawRows(true),
  };

  function take(hit: number): void {
    context.choose({ channel: model.channelOf(hit), hit }, 'keys');
  }

  function bringIntoView(place: number, center: boolean): void {
    const head = rowHeight;
    const top = place * rowHeight;
    const seen = scroller.clientHeight - head;
    if (top < scroller.scrollTop || top + rowHeight > scroller.scrollTop + seen)
      scroller.scrollTop = center ? top - seen / 2 : top < scroller.scrollTop ? top : top + rowHeight - seen;
  }

  function fill(): void {
    const { listed, listedChannel, sortedBy } = editor.state;
    const all =
      listedChannel === null ? Int32Array.from(hits.timeS, (_, i) => i) : model.hitsOf(listedChannel).slice();
    shown = listed === 'all' ? all : all.filter((hit) => (hits.why[hit] === none) === (listed === 'used'));
    if (sortedBy !== 'time') {
      const way = sortedBy === 'late' ? -1 : 1;
      const order = (hit: number) =>
        Number.isNaN(hits.latenessMs[hit]) ? Infinity : way * hits.latenessMs[hit];
      shown.sort((a, b) => order(a) - order(b) || a - b);
    }
    count.textContent = `${shown.length.toLocaleString('en')} of ${hits.timeS.length.toLocaleString('en')}`;
    spacer.style.height = `${shown.length * rowHeight}px`;
    scroller.setAttribute('aria-rowcount', `${shown.length + 1}`);
    scroller.scrollTop = 0;
    drawRows(true);
  }

  function drawRows(anew = false): void {
    const first = Math.max(0, Math.floor(scroller.scrollTop / rowHeight) - spare);
    if (first === firstDrawn && !anew) return;
    firstDrawn = first;
    const many = Math.ceil((scroller.clientHeight || 400) / rowHeight) + 2 * spare;
    const rows: HTMLElement[] = [];
    let active: string | null = null;
    for (let i = first; i < Math.min(shown.length, first + many); i++) {
      const row = rowOf(shown[i], i);
      if (shown[i] === context.choice.hit) active = row.id;
      rows.push(row);
    }
    body.style.transform = `translateY(${first * rowHeight}px)`;
    body.replaceChildren(...rows);
    if (active === null) scroller.removeAttribute('aria-activedescendant');
    else scroller.setAttribute('aria-activedescendant', active);
  }

  function rowOf(hit: number, place: number): HTMLElement {
    const step = hits.step[hit];
    const chosen = hit === context.choice.hit;
    const cells = [
      clock(hits.timeS[hit]),
      model.nameOf(model.channelOf(hit)),
      latenessFigure(hits.latenessMs[hit]),
      model.sectorOf(hit) ?? '–',
      step === none ? '–' : `${step}`,
      turnWords(hits.turn[hit]),
      model.whyOf(hit) ?? 'used',
    ];
    return make(
      'div',
      {
        class: `row${chosen ? ' chosen' : ''}${hits.why[hit] === none ? '' : ' aside'}`,
        role: 'row',
        id: `hit-${hit}`,
        'data-hit': hit,
        'aria-rowindex': place + 2,
        'aria-selected': `${chosen}`,
      },
      ...cells.map((cell) => make('span', { role: 'gridcell' }, cell)),
    );
  }

  function controls(): HTMLElement {
    const { state } = editor;
    const choice = (
      label: string,
      options: readonly (readonly [string, string])[],
      value: string,
      keep: (value: string) => void,
    ) => {
      const select = make('select', {});
      select.append(...options.map(([key, words]) => make('option', { value: key }, words)));
      select.value = value;
      select.addEventListener('change', () => {
        keep(select.value);
        fill();
      });
      return make('label', {}, `${label} `, select);
    };
    return make(
      'div',
      { class: 'list-controls' },
      choice(
        'Channel',
        [['', 'all'], ...model.channels.map(({ id, name }) => [`=${id}`, name] as const)],
        state.listedChannel === null ? '' : `=${state.listedChannel}`,
        (value) => editor.keep({ listedChannel: value === '' ? null : value.slice(1) }),
      ),
      choice(
        'State',
        [
          ['all', 'all'],
          ['used', 'used'],
          ['set-aside', 'set aside'],
        ],
        state.listed,
        (value) => editor.keep({ listed: value as typeof state.listed }),
      ),
      choice(
        'In order of',
        [
          ['time', 'time'],
          ['late', 'latest first'],
          ['early', 'earliest first'],
        ],
        state.sortedBy,
        (value) => editor.keep({ sortedBy: value as typeof state.sortedBy }),
      ),
      count,
    );
  }
}
