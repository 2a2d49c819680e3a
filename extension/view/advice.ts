/** What to change: safety before it, the settings, and what each group is predicted to do. */
import { workLines } from '../../analysis/report/work-words.ts';
import { safetyLine } from '../../analysis/report/page.ts';
import type { Advice } from '../../analysis/results/results.ts';
import { withMinus } from '../../analysis/words/minus.ts';
import type { Context, Part } from './context.ts';
import { button, make, mark, plain, section } from './element.ts';
import type { HearButtons } from './hear.ts';
import { predictedPart } from './predicted.ts';
import { type Change, fittedOf, saidOf, saying } from './work-said.ts';

/**
 * @param hear   the buttons of the report shown: they play on while this part is made anew
 * @param lead   leads through the work, one change after another
 * @param failed true where what to change now could not be worked out
 */
export function advicePart(context: Context, hear: HearButtons, lead: () => void, failed = false): Part {
  const { model, editor } = context;
  const { newest, mayChange, told } = model.message;
  const advice = context.adviceNow ?? model.head.advice;
  const changes = changesOf(advice);
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
  const note = button('', () => context.note(), {
    class: 'plain',
    'aria-label': 'Write what is ticked into machine.jsonc and CALIBRATION.md',
  });
  if (advice.settings.length > 0)
    element.append(
      settingsTable(),
      ...workLines(advice).map((line) => make('p', { class: 'work' }, line)),
      ...(advice.experiment === undefined ? [] : [make('p', { class: 'work' }, advice.experiment.message)]),
      actions(),
      hear.element,
    );
  const predicted = predictedPart(model, advice);
  if (predicted !== null) element.append(...predicted.elements);
  return { element, redraw: () => predicted?.draw() };

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
        make('td', {}, context.mayNote() ? tick({ adjuster, from: installed, to: proposed }) : null),
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

  function tick(change: Change): HTMLElement {
    const { adjuster } = change;
    const box = make('input', { type: 'checkbox', 'aria-label': `${adjuster}: this is done` });
    const words = make('span', {});
    const show = () => {
      const what = saidOf(editor.state.said, change);
      box.checked = what !== null && what !== 'skipped';
      words.textContent = plain(
        typeof what === 'number' && what !== change.to ? ` Done: ${withMinus(what)} instead` : ' Done',
      );
    };
    box.addEventListener('change', () => {
      editor.keep({ said: saying(editor.state.said, change, box.checked ? 'fitted' : null) });
      show();
      countTicks();
    });
    show();
    return make('label', {}, box, words);
  }

  function countTicks(): void {
    const { adjusters, others } = fittedOf(editor.state.said, changes);
    const count = adjusters.length + others.length;
    note.disabled = count === 0;
    note.textContent = count === 0 ? 'Note what is ticked as fitted' : `Note ${count} as fitted`;
  }

  function actions(): HTMLElement {
    if (newest !== null) return make('p', { class: 'actions' });
    const review = button('Review as a diff', () => editor.send({ kind: 'review' }), { class: 'main' });
    if (!mayChange) return make('p', { class: 'actions' }, review);
    if (!context.mayNote())
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
      button('Work at the machine', lead, { class: 'plain' }),
      all,
      note,
      button('Something else was fitted…', () => editor.send({ kind: 'fitted' }), { class: 'plain' }),
    );
  }
}

/** The changes that are proposed. */
export function changesOf({ settings }: Advice): Change[] {
  return settings.map(({ adjuster, installed, proposed }) => ({ adjuster, from: installed, to: proposed }));
}
