/** What to change: safety before it, the settings, and what each group is predicted to do. */
import { defaultToleranceMs } from '../../analysis/machine/tolerance.ts';
import { workLines } from '../../analysis/report/work-words.ts';
import * as Plot from '@observablehq/plot';
import { safetyLine } from '../../analysis/report/page.ts';
import {
  type Judgement,
  judge,
  judgementWords,
  signed,
  withInterval,
} from '../../analysis/report/reading.ts';
import type { Advice } from '../../analysis/results/results.ts';
import type { Context, Part } from './context.ts';
import { button, make, mark, plain, section } from './element.ts';
import type { HearButtons } from './hear.ts';
import { placed } from './picture.ts';

type Row = Advice['predicted'][number] & {
  readonly i: number;
  readonly tolerance: number;
  readonly kind: Judgement;
};

/**
 * @param hear   the buttons of the report shown: they play on while this part is made anew
 * @param failed true where what to change now could not be worked out
 */
export function advicePart(context: Context, hear: HearButtons, failed = false): Part {
  const { model, editor } = context;
  const { newest, mayChange, told } = model.message;
  const advice = context.adviceNow ?? model.head.advice;
  /** Ticks are kept over a reload, and go into one entry of the log. */
  const ticked = new Set(
    editor.state.ticked.filter((id) => advice.settings.some(({ adjuster }) => adjuster === id)),
  );
  const picture = make('div', { class: 'picture' });
  const element = section('advice', 'What to change');
  if (told !== null) element.append(make('p', { class: 'quiet' }, `To know: ${told}.`));
  if (newest !== null)
    element.append(
      make(
        'p',
        { class: 'quiet' },
        `What was to change after this take. ${newest} is newer: what to change now, and where work is noted, is on its page. `,
      ),
      button(`Open ${newest}`, () => editor.send({ kind: 'show-newest' }), { class: 'plain' }),
    );
  if (advice.settings.length > 0) element.append(make('p', { class: 'safety', role: 'note' }, safetyLine));
  element.append(make('p', { class: 'summary' }, advice.summary));
  for (const { message } of advice.obstacles ?? [])
    element.append(make('p', { class: 'obstacle' }, mark('maybe-late'), ' ', message));
  // Ticked first, then pressed: what writes files takes two steps, and no haste between them.
  const note = button(
    '',
    () => {
      editor.send({ kind: 'accept', run: editor.run, adjusters: [...ticked] });
      ticked.clear();
      editor.keep({ ticked: [] });
    },
    { class: 'plain', 'aria-label': 'Write what is ticked into machine.jsonc and CALIBRATION.md' },
  );
  if (advice.settings.length > 0)
    element.append(
      settingsTable(),
      ...workLines(advice).map((line) => make('p', { class: 'work' }, line)),
      ...(advice.experiment === undefined ? [] : [make('p', { class: 'work' }, advice.experiment.message)]),
      actions(),
      hear.element,
    );
  if (advice.predicted.length > 0)
    element.append(
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
    );
  return { element, redraw: draw };

  function settingsTable(): HTMLElement {
    const rows = advice.settings.map(({ adjuster, unit, installed, proposed }) => {
      const change = `${proposed < installed ? 'take out' : 'add'} ${Math.abs(proposed - installed)}`;
      return make(
        'tr',
        {},
        make('th', { scope: 'row' }, adjuster),
        make('td', { class: 'number' }, `${installed}`.replace('-', '−')),
        make('td', { class: 'number' }, make('strong', {}, `${proposed}`.replace('-', '−'))),
        make('td', {}, unit),
        make('td', {}, change),
        make('td', {}, canNote() ? tick(adjuster) : null),
      );
    });
    const heads = ['Adjuster', 'Installed', 'Proposed', 'Unit', 'Change', ''];
    return make(
      'table',
      { class: 'settings' },
      make('thead', {}, make('tr', {}, ...heads.map((head) => make('th', { scope: 'col' }, head)))),
      make('tbody', {}, ...rows),
    );
  }

  /** Only the newest take's page notes work, and only what it proposes for the machine as it is now. */
  function canNote(): boolean {
    return mayChange && newest === null && context.adviceNow !== null;
  }

  function tick(adjuster: string): HTMLElement {
    const box = make('input', { type: 'checkbox', 'aria-label': `${adjuster}: this is done` });
    box.checked = ticked.has(adjuster);
    box.addEventListener('change', () => {
      if (box.checked) ticked.add(adjuster);
      else ticked.delete(adjuster);
      editor.keep({ ticked: [...ticked] });
      countTicks();
    });
    return make('label', {}, box, ' Done');
  }

  function countTicks(): void {
    note.disabled = ticked.size === 0;
    note.textContent = ticked.size === 0 ? 'Note what is ticked as fitted' : `Note ${ticked.size} as fitted`;
  }

  function actions(): HTMLElement {
    if (newest !== null) return make('p', { class: 'actions' });
    const review = button('Review as a diff', () => editor.send({ kind: 'review' }), { class: 'main' });
    if (!mayChange) return make('p', { class: 'actions' }, review);
    if (!canNote())
      return make(
        'p',
        { class: 'actions' },
        review,
        make(
          'span',
          { class: 'quiet' },
          failed ? 'What to change now could not be worked out.' : 'Working out what to change now …',
        ),
      );
    countTicks();
    const all = button(
      'Tick all',
      () => {
        for (const box of element.querySelectorAll<HTMLInputElement>('.settings input'))
          if (!box.checked) box.click();
      },
      { class: 'plain' },
    );
    return make(
      'p',
      { class: 'actions' },
      review,
      all,
      note,
      button('Something else was fitted…', () => editor.send({ kind: 'fitted' }), { class: 'plain' }),
    );
  }

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
    if (advice.predicted.length === 0) return;
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
