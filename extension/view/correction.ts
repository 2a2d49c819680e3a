/** A person's word about a hit: the form that gives it, and the list of what was said before. */
import type { Correction } from '../protocol/messages.ts';
import type { Context } from './context.ts';
import { button, make } from './element.ts';
import { clock } from './stroke-words.ts';

const choices = [
  ['drop', 'It is no strike: leave it out'],
  ['rename', 'It is a strike of another channel'],
  ['move', 'Its instant is wrong: move it'],
  ['add', 'A strike was missed here: add one'],
] as const;

/** A correction's channel is the one that the hit has after it. */
const actionWords: Readonly<Record<Correction['action'], (channel: string) => string>> = {
  drop: (channel) => `${channel} left out`,
  rename: (channel) => `is a strike of ${channel}`,
  move: (channel) => `${channel} moved here`,
  add: (channel) => `${channel} added`,
};

export function correctionForm(context: Context, hit: number): HTMLFormElement {
  const { model, editor } = context;
  const form = make('form', {});
  const action = make('select', { name: 'action' });
  action.append(...choices.map(([value, words]) => make('option', { value }, words)));
  const channel = make('select', { name: 'channel' });
  channel.append(...model.channels.map(({ id, name }) => make('option', { value: id }, name)));
  const own = model.channelOf(hit);
  if (own !== null) channel.value = own;
  const moved = make('input', {
    type: 'number',
    name: 'shift',
    step: '0.01',
    value: '0',
    min: '-500',
    max: '500',
  });
  const note = make('input', {
    type: 'text',
    name: 'note',
    maxlength: 1000,
    placeholder: 'why, for those who come later',
  });
  const channelLabel = make('label', {}, 'Channel ', channel);
  const movedLabel = make('label', {}, 'By how many ms (later is positive) ', moved);
  const submit = make('button', { type: 'submit', class: 'main' }, 'Write it to corrections.csv');
  const show = () => {
    channelLabel.hidden = !['rename', 'add'].includes(action.value);
    movedLabel.hidden = !['move', 'add'].includes(action.value);
  };
  action.addEventListener('change', show);
  show();
  form.append(
    make('label', {}, 'What is wrong with it? ', action),
    channelLabel,
    movedLabel,
    make('label', {}, 'Note ', note),
    submit,
    make(
      'p',
      { class: 'quiet' },
      'The file stands beside the recording, and the take is analysed again at once. It can be taken back.',
    ),
  );
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const kind = choices.find(([value]) => value === action.value)?.[0];
    if (kind === undefined) return;
    const shiftS =
      ['move', 'add'].includes(kind) && Number.isFinite(moved.valueAsNumber) ? moved.valueAsNumber / 1000 : 0;
    const named = kind === 'rename' || kind === 'add' ? channel.value : (own ?? '');
    const row: Correction = {
      timeS: Math.max(0, model.hits.timeS[hit] + shiftS),
      channel: named,
      action: kind,
      note: note.value,
    };
    submit.disabled = true;
    context.announce('Written; analysing the take again.');
    editor.send({ kind: 'correct', run: editor.run, row });
  });
  return form;
}

/** null where nobody corrected anything */
export function correctionsList({ model, editor }: Context): HTMLElement | null {
  const { corrections, mayChange } = model.message;
  if (corrections.length === 0) return null;
  const rows = corrections.map((row, place) =>
    make(
      'li',
      {},
      `${clock(row.timeS)} ${actionWords[row.action](model.nameOf(row.channel === '' ? null : row.channel))}`,
      row.note === '' ? '' : ` (${row.note}) `,
      mayChange
        ? button('Take back', () => editor.send({ kind: 'take-back', run: editor.run, place, row }), {
            class: 'plain small',
            'aria-label': `Take back the correction at ${clock(row.timeS)}`,
          })
        : null,
    ),
  );
  return make(
    'div',
    { class: 'corrections' },
    make('h3', {}, `Corrected by a person (${corrections.length})`),
    make('ul', {}, ...rows),
  );
}
