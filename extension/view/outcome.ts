/** Did it work? What became of the last change, where one was made before this take. */
import { withInterval } from '../../analysis/report/reading.ts';
import type { Context, Part } from './context.ts';
import { make, section } from './element.ts';

/** @returns null where nothing was changed before this take */
export function outcomePart({ model }: Context): Part | null {
  const { outcome } = model.head;
  if (outcome === undefined) return null;
  const element = section(
    'outcome',
    'Did it work?',
    make('p', { class: 'summary' }, `Since take ${outcome.since}: ${outcome.line}`),
  );
  const missed = outcome.groups.filter(({ asPredicted }) => !asPredicted);
  const rows = missed.map(({ channel, sector, predictedMs, predictedCi95Ms, measuredMs, measuredCi95Ms }) =>
    make(
      'tr',
      {},
      make('th', { scope: 'row' }, model.nameOf(channel)),
      make('td', {}, sector),
      make('td', { class: 'number' }, withInterval(predictedMs, predictedCi95Ms)),
      make('td', { class: 'number' }, withInterval(measuredMs, measuredCi95Ms)),
    ),
  );
  const heads = ['Channel', 'Sector', 'Predicted, ms', 'Measured, ms'];
  if (rows.length > 0)
    element.append(
      make('h3', {}, 'Not as predicted'),
      make(
        'div',
        { class: 'across' },
        make(
          'table',
          {},
          make('thead', {}, make('tr', {}, ...heads.map((head) => make('th', { scope: 'col' }, head)))),
          make('tbody', {}, ...rows),
        ),
      ),
    );
  return { element };
}
