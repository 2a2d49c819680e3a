/**
 * The way through the work for who stands at the machine with a tablet or a phone: one change at a time, large, in the order
 * of the work; then what was said of all of them, which goes into one entry of the log. Nothing is written before that.
 */
import { safetyBrief, safetyLine } from '../../analysis/report/page.ts';
import { plural } from '../../analysis/report/reading.ts';
import type { Task } from '../../analysis/report/sheet/openings.ts';
import { withMinus } from '../../analysis/words/minus.ts';
import type { Context } from './context.ts';
import { button, make } from './element.ts';
import { numberForm } from './fitted-number.ts';
import { fittedOf, overtaken, saidOf, saidWords, saying, type Said } from './work-said.ts';

export interface AtMachine {
  readonly element: HTMLElement;
  open(): void;
  /** What to change, or what was said, is another now. @param failed what to change could not be worked out */
  show(failed: boolean): void;
}

/** A change with where it is reached. */
interface Stop {
  readonly task: Task;
  readonly place: string | null;
}

/** @param turned the page goes over to this view, or back from it */
export function atMachine(context: Context, turned: (isOpen: boolean) => void): AtMachine {
  const { editor, model } = context;
  const element = make('main', { class: 'at-machine', hidden: true });
  let failed = false;
  /** Where a person came from is read out and shown from its top; a page made anew leaves them where they are. */
  let isNew = false;
  return {
    element,
    open() {
      go('start', '');
    },
    show(isFailed) {
      failed = isFailed;
      draw();
    },
  };

  function stops(): Stop[] {
    const { openings } = context;
    const isOpened = openings.some(({ access }) => access !== null);
    return openings.flatMap(({ access, minutes, tasks }) =>
      tasks.map((task, i) => {
        const open =
          access === null
            ? 'Nothing has to be opened'
            : i > 0
              ? `At ${access}, open already`
              : `Open ${access}${minutes === null ? '' : ` (${+minutes.toFixed(1)} min)`}`;
        return { task, place: isOpened ? open : null };
      }),
    );
  }

  function go(screen: 'start' | 'change' | 'end', adjuster: string): void {
    editor.keep({ atMachine: { screen, adjuster } });
    isNew = true;
    draw();
  }

  function close(): void {
    editor.keep({ atMachine: null });
    draw();
  }

  function draw(): void {
    const where = editor.state.atMachine;
    if (element.hidden !== (where === null)) {
      element.hidden = where === null;
      turned(where !== null);
    }
    if (where === null) return element.replaceChildren();
    const all = stops();
    const at = all.findIndex(({ task }) => task.adjuster === where.adjuster);
    const contents =
      !context.mayNote() || all.length === 0
        ? waiting()
        : where.screen === 'change' && at >= 0
          ? change(all, at)
          : where.screen === 'end'
            ? end(all)
            : start(all);
    element.replaceChildren(...contents);
    if (!isNew) return;
    isNew = false;
    window.scrollTo(0, 0);
    element.querySelector('h1')?.focus({ preventScroll: true });
  }

  function head(words: string, ...more: (Node | string)[]): HTMLElement {
    return make('h1', { tabindex: -1 }, words, ...more);
  }

  function safety(words: string): HTMLElement {
    return make('p', { class: 'safety', role: 'note' }, words);
  }

  function leave(): HTMLElement {
    return button('Back to the report', close, { class: 'plain' });
  }

  /** There is nothing to lead through: why, and what was said so far, so that it can be entered by hand. */
  function waiting(): HTMLElement[] {
    const { newest, mayChange } = model.message;
    const why = !mayChange
      ? 'This workspace is not trusted: nothing can be noted.'
      : newest !== null
        ? `${newest} is newer: the work is noted on its page.`
        : failed
          ? 'What to change now could not be worked out.'
          : context.adviceNow === null
            ? 'Working out what to change now …'
            : context.adviceNow.summary;
    return [
      safety(safetyLine),
      head('At the machine'),
      make('p', { role: 'status' }, why),
      ...lapsed([]),
      newest === null
        ? leave()
        : make(
            'div',
            { class: 'keys' },
            button(`Open ${newest}`, () => editor.send({ kind: 'show-newest' }), { class: 'main' }),
            leave(),
          ),
    ];
  }

  /** Nothing that a person said is dropped without a word. */
  function lapsed(tasks: readonly Task[]): HTMLElement[] {
    const rows = context.adviceNow === null && tasks.length === 0 && !failed ? [] : lapsedOf(tasks);
    if (rows.length === 0) return [];
    return [
      make(
        'p',
        { class: 'lapsed' },
        'Said of changes that are proposed no longer, and not noted; enter it under "Something else was fitted…" where it was done: ',
        rows.map((each) => saidWords(each, each.what)).join('; '),
        '.',
      ),
      button(
        'Forget these',
        () => {
          editor.keep({ said: editor.state.said.filter((each) => !rows.includes(each)) });
          draw();
        },
        { class: 'plain' },
      ),
    ];
  }

  function lapsedOf(tasks: readonly Task[]): Said[] {
    return overtaken(editor.state.said, tasks);
  }

  function start(all: readonly Stop[]): HTMLElement[] {
    const tasks = all.map(taskOf);
    const { work, summary, doubts = [] } = context.adviceNow!;
    const minutes = work?.minutes ?? null;
    const isBegun = tasks.some((task) => saidOf(editor.state.said, task) !== null);
    const next = all.find(({ task }) => saidOf(editor.state.said, task) === null);
    return [
      safety(safetyLine),
      head(`${plural(tasks.length, 'change')} at the machine`),
      make('p', {}, summary),
      make(
        'p',
        { class: 'quiet' },
        `One after the other, in the order of the work${minutes === null ? '' : `, about ${+minutes.toFixed(1)} min`}. Nothing is written before the end.`,
      ),
      ...(doubts.length === 0
        ? []
        : [
            make(
              'details',
              {},
              make('summary', {}, `In doubt: leave alone until it is settled (${doubts.length})`),
              ...doubts.map(({ message }) => make('p', {}, message)),
            ),
          ]),
      ...lapsed(tasks),
      make(
        'div',
        { class: 'keys' },
        button(isBegun ? 'Go on' : 'Begin', () => (next ? go('change', next.task.adjuster) : go('end', '')), {
          class: 'main',
        }),
        leave(),
      ),
    ];
  }

  function change(all: readonly Stop[], at: number): HTMLElement[] {
    const { task, place } = all[at];
    const { adjuster, name, unit, from, to, what, why } = task;
    const said = saidOf(editor.state.said, task);
    const onward = () => (at + 1 < all.length ? go('change', all[at + 1].task.adjuster) : go('end', ''));
    const say = (word: Said['what']) => {
      editor.keep({ said: saying(editor.state.said, task, word) });
      onward();
    };
    const key = (words: string, word: Said['what'], kind: string) =>
      button(words, () => say(word), { class: kind, 'aria-pressed': said === word ? 'true' : 'false' });
    const number = numberForm(task, typeof said === 'number' ? said : null, say);
    const another = button(
      typeof said === 'number' ? `Another number: ${withMinus(said)}` : 'Another number',
      () => typeNumber(true),
      { class: 'plain', 'aria-pressed': typeof said === 'number' ? 'true' : 'false' },
    );
    const keys = make(
      'div',
      { class: 'keys' },
      key('Fitted', 'fitted', 'main'),
      make('div', { class: 'pair' }, another, key('Skip', 'skipped', 'plain')),
      make(
        'div',
        { class: 'pair' },
        button('Back', () => (at > 0 ? go('change', all[at - 1].task.adjuster) : go('start', '')), {
          class: 'plain',
        }),
        said === null ? null : button('Next', onward, { class: 'plain' }),
      ),
      leave(),
    );
    // In place of the other keys: on a phone both do not fit, and a thumb beside the field must not say "Fitted".
    const typing = make(
      'div',
      { class: 'keys', hidden: true },
      number.element,
      button('Cancel', () => typeNumber(false), { class: 'plain' }),
    );
    const typeNumber = (isTyped: boolean) => {
      keys.hidden = isTyped;
      typing.hidden = !isTyped;
      if (isTyped) number.focus();
      else another.focus();
    };
    return [
      safety(safetyBrief),
      make(
        'p',
        { class: 'place-of-work' },
        `${at + 1} of ${all.length}`,
        place === null ? null : make('strong', {}, ` ${place}`),
      ),
      head(adjuster, ...(name === null ? [] : [make('span', { class: 'quiet' }, ` ${name}`)])),
      make(
        'p',
        { class: 'from-to' },
        'from ',
        make('b', {}, withMinus(from)),
        ' to ',
        make('b', { class: 'to' }, withMinus(to)),
        make('span', { class: 'quiet' }, ` ${unit}`),
      ),
      make('p', { class: 'what' }, `${what[0].toUpperCase()}${what.slice(1)}.`),
      ...(why === null ? [] : [make('p', { class: 'quiet' }, `${why}.`)]),
      keys,
      typing,
    ];
  }

  function end(all: readonly Stop[]): HTMLElement[] {
    const tasks = all.map(taskOf);
    const { adjusters, others } = fittedOf(editor.state.said, tasks);
    const count = adjusters.length + others.length;
    const rows = tasks.map((task) =>
      make(
        'li',
        {},
        button(saidWords(task, saidOf(editor.state.said, task)), () => go('change', task.adjuster), {
          class: 'plain',
          title: 'Go back to this change',
        }),
      ),
    );
    const isPart = tasks.some((task) => ![task.to, 'fitted'].includes(saidOf(editor.state.said, task) ?? ''));
    const noteNow = () => {
      // Drawn anew when the editor has answered.
      note.disabled = true;
      note.textContent = 'Writing …';
      context.note();
    };
    const note = button('Note this', noteNow, {
      class: 'main',
      'aria-label': 'Note this: write it into machine.jsonc and CALIBRATION.md',
    });
    note.disabled = count === 0;
    return [
      safety(safetyBrief),
      head('What will be noted'),
      make('ul', { class: 'said' }, ...rows),
      make(
        'p',
        {},
        count === 0
          ? 'Nothing was fitted, so there is nothing to note.'
          : `${plural(count, 'setting')} ${count === 1 ? 'goes' : 'go'} into machine.jsonc, and one entry into CALIBRATION.md.`,
      ),
      ...(isPart && count > 0
        ? [
            make(
              'p',
              { class: 'quiet' },
              'What is predicted holds for all changes as proposed. After only a part, or with another number, record a take to see what it did.',
            ),
          ]
        : []),
      // Of the whole proposal: what a part of it leaves unsure, nobody has worked out.
      ...(isPart ? [] : context.record.map((line) => make('p', {}, line))),
      ...lapsed(tasks),
      make(
        'div',
        { class: 'keys' },
        note,
        make(
          'div',
          { class: 'pair' },
          button('Back', () => go('change', tasks[tasks.length - 1].adjuster), { class: 'plain' }),
          leave(),
        ),
      ),
    ];
  }
}

const taskOf = ({ task }: Stop): Task => task;
