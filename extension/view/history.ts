/** A channel over all takes of the machine: a control chart and what was changed between. Asked for when it is opened. */
import { historyPlot, historyWords } from '../../analysis/report/history-text.ts';
import { figures, signed, withInterval } from '../../analysis/report/reading.ts';
import { withMinus } from '../../analysis/words/minus.ts';
import type { ChannelInTakes } from '../protocol/messages.ts';
import type { Context, Part } from './context.ts';
import { button, make, section } from './element.ts';
import { drawInto, tableOf } from './section-picture.ts';

export function historyPart({ model, editor }: Context): Part {
  const element = section('history', 'Over the takes');
  let redraw: (() => void) | undefined;
  const ask = button('Show how each channel went', () => void open(), { class: 'plain' });
  element.append(ask);
  // A newer report of the same take takes nothing away that was asked for.
  if (editor.state.courses) void open();
  return { element, redraw: () => redraw?.() };

  async function open(): Promise<void> {
    ask.disabled = true;
    editor.keep({ courses: true });
    const channels = await editor.history();
    const measured = channels.filter(({ lines }) => lines.some(({ latenessMs }) => latenessMs !== null));
    if (measured.length === 0) {
      ask.replaceWith(make('p', {}, 'No channel was measured in any take yet.'));
      return;
    }
    const choice = make('select', {});
    choice.append(
      ...measured.map(({ channel }) => make('option', { value: channel }, model.nameOf(channel))),
    );
    // What is most worth looking at comes first.
    const first = measured.find(({ lines }) => lines.some(({ signal }) => signal !== null)) ?? measured[0];
    choice.value = first.channel;
    const shown = make('div', {});
    choice.addEventListener('change', show);
    ask.replaceWith(make('label', { class: 'choice' }, 'Channel ', choice), shown);
    show();

    function show(): void {
      const own = measured.find(({ channel }) => channel === choice.value) ?? first;
      const words = historyWords(own);
      const loudness = own.loudness === null ? [] : [make('p', {}, own.loudness)];
      const picture = make('div', { class: 'picture section-picture' });
      shown.replaceChildren(
        make('p', {}, words),
        ...loudness,
        picture,
        make('div', { class: 'across' }, table(own)),
      );
      redraw = () => drawInto(picture, historyPlot(own), `${model.nameOf(own.channel)}: ${words}`);
      redraw();
    }
  }
}

function table({ lines }: ChannelInTakes): HTMLElement {
  return tableOf(
    [
      'Take',
      'Recorded',
      'Lateness, ms',
      'Settings taken off, ms',
      'Repeats to, ms',
      'Level, dB',
      'Against others on its track, dB',
      'Changed before it',
    ],
    lines.map(
      ({
        take,
        recorded,
        latenessMs,
        ci95Ms,
        wearMs,
        repeatabilityMs,
        levelDb,
        againstOthersDb,
        changed,
      }) => [
        take,
        recorded?.slice(0, 10) ?? '–',
        withInterval(latenessMs, ci95Ms),
        signed(wearMs),
        figures(repeatabilityMs),
        decibels(levelDb),
        decibels(againstOthersDb),
        changed.join(', ') || '–',
      ],
    ),
  );
}

function decibels(db: number | null): string {
  return db === null ? '–' : withMinus(db.toFixed(1));
}
