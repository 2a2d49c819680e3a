/** "Why was this not a hit?": what started to sound and was dropped, with the reason; by reason, and moment by moment. */
import type { Context, Part } from './context.ts';
import { make } from './element.ts';
import { clock } from './stroke-words.ts';

/** Moments shown about an instant that a person asks for lie so near it, s: a step or two of most barrels. */
const nearS = 0.5;

/** @returns null where the report does not say: it was written before reports did */
export function droppedPart({ model }: Context): Part | null {
  const { dropped } = model.head;
  if (dropped === undefined) return null;
  const total = dropped.counts.reduce((sum, { count }) => sum + count, 0);
  const about = make('input', { type: 'number', min: 0, step: 'any', placeholder: 'all' });
  const body = make('tbody', {});
  const said = make('p', { class: 'quiet', role: 'status' });
  about.addEventListener('input', fill);
  fill();
  const element = make(
    'details',
    { id: 'dropped' },
    make('summary', {}, `Why was this not a hit? ${total.toLocaleString('en')} moments were dropped`),
    make(
      'p',
      { class: 'quiet' },
      'Moments at which a track changed for the louder and that are no hits, with the reason. What should have been a hit is entered in corrections.csv.',
    ),
    table(
      ['Moments', 'Would be', 'Why'],
      make(
        'tbody',
        {},
        ...dropped.counts.map(({ channel, why, count }) =>
          row(count.toLocaleString('en'), nameOf(channel), why),
        ),
      ),
    ),
    make('label', {}, 'About, in seconds from the start of the take ', about),
    said,
    table(['Time', 'Track', 'Would be', 'Why'], body),
  );
  return { element };

  function fill(): void {
    const aboutS = about.value === '' ? null : Number(about.value);
    const shown = dropped!.moments.filter(
      ({ timeS }) => aboutS === null || Math.abs(timeS - aboutS) <= nearS,
    );
    body.replaceChildren(
      ...shown.map(({ timeS, track, channel, why }) =>
        row(clock(timeS), trackName(track), nameOf(channel), why),
      ),
    );
    const listed = `${shown.length.toLocaleString('en')} of ${total.toLocaleString('en')} listed`;
    said.textContent =
      dropped!.moments.length < total
        ? `${listed}; of so many the report keeps those first that would have been a channel’s or stand beside a missing stroke.`
        : `${listed}.`;
  }

  function trackName(track: number): string {
    const known = model.head.tracks?.[track];
    return known === undefined ? `${track + 1}` : `${known.file}, track ${known.track + 1}`;
  }

  function nameOf(channel: string | null): string {
    return channel === null ? '–' : model.nameOf(channel);
  }
}

function table(heads: readonly string[], body: HTMLElement): HTMLElement {
  return make(
    'table',
    {},
    make('thead', {}, make('tr', {}, ...heads.map((head) => make('th', { scope: 'col' }, head)))),
    body,
  );
}

function row(first: string, ...rest: readonly string[]): HTMLElement {
  return make('tr', {}, make('th', { scope: 'row' }, first), ...rest.map((cell) => make('td', {}, cell)));
}
