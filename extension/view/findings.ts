/** What the checks noticed, with what to do about it and where to look. */
import type { Context, Part } from './context.ts';
import { button, make, section } from './element.ts';
import { correctionsList } from './correction.ts';

const severities = { error: 'Error', warning: 'Warning', note: 'Note' } as const;
const order = ['error', 'warning', 'note'] as const;

/** Findings at first; the rest is a click away. */
const shownFirst = 40;

export function findingsPart(context: Context): Part {
  const { model, editor } = context;
  const findings = model.head.findings
    .map((finding, i) => ({ finding, i }))
    .sort((a, b) => order.indexOf(a.finding.severity) - order.indexOf(b.finding.severity) || a.i - b.i);
  const element = section('findings', 'Findings');
  if (findings.length === 0) element.append(make('p', {}, 'The checks found nothing amiss.'));
  const list = make('ul', { class: 'findings' });
  list.append(...findings.slice(0, shownFirst).map(row));
  element.append(list);
  if (findings.length > shownFirst) {
    const more = button(
      `Show the other ${findings.length - shownFirst}`,
      () => {
        list.append(...findings.slice(shownFirst).map(row));
        more.remove();
      },
      { class: 'plain' },
    );
    element.append(more);
  }
  const corrected = correctionsList(context);
  if (corrected !== null) element.append(corrected);
  return { element };

  function row({ finding, i }: (typeof findings)[number]): HTMLLIElement {
    const { severity, message, mend, channel, step, file, place } = finding;
    const item = make(
      'li',
      { class: severity },
      make('span', { class: 'severity' }, severities[severity]),
      make(
        'div',
        {},
        make('p', {}, message),
        mend === undefined
          ? null
          : make('p', { class: 'quiet' }, mend.charAt(0).toUpperCase() + mend.slice(1), '.'),
      ),
    );
    const actions = make('div', { class: 'item-actions' });
    if (channel !== undefined && model.hitsOf(channel).length > 0)
      actions.append(button('Show strokes', () => show(channel, step), { class: 'plain small' }));
    if (file !== undefined)
      actions.append(
        button(
          place === undefined ? `Open ${file}` : `Open ${file}, ${place}`,
          () => editor.send({ kind: 'show-finding', run: editor.run, finding: i }),
          { class: 'plain small' },
        ),
      );
    else if (channel !== undefined && step !== undefined && model.message.patternInText)
      actions.append(
        button('Show in pattern.csv', () => editor.send({ kind: 'show-pin', channel, step }), {
          class: 'plain small',
        }),
      );
    item.append(actions);
    return item;
  }

  function show(channel: string, step: number | undefined): void {
    const own = model.hitsOf(channel);
    const found = step === undefined ? undefined : own.find((hit) => model.hits.step[hit] === step);
    context.choose({ channel, hit: found ?? own[0] ?? null }, 'list');
  }
}
