/** The order of the work in words: one line an opening, the same in the terminal, in report.md and on the page. */
import { piecesWords, type Pieces } from '../advice/pieces.ts';
import { withMinus } from '../words/minus.ts';
import type { Advice } from '../results/results.ts';

/**
 * "1. Open east cheek (20 min): lever-a 3 → 0 (3 min; put in 1 × 0.2 mm, take out 3 × 0.1 mm)", and what the drawer then
 * holds. Empty where the list of changes says all there is: nothing to open, no pieces, and the order of the list will do.
 */
export function workLines({ work, stock, settings }: Pick<Advice, 'work' | 'stock' | 'settings'>): string[] {
  if (work === undefined || work.steps.length === 0) return [];
  const changes = work.steps.flatMap((step) => step.changes);
  const isPlain =
    work.steps.every(({ access }) => access === null) && changes.every(({ takes }) => takes === undefined);
  if (isPlain) {
    const inOrder = changes.map(({ adjuster }) => adjuster);
    const asListed = inOrder.every((id, i) => id === settings[i]?.adjuster);
    return asListed ? [] : [`In this order, since what moves much comes first: ${inOrder.join(', ')}.`];
  }
  const lines = work.steps.map(({ access, openMinutes, changes: own }, i) => {
    const what = own.map(({ adjuster, from, to, minutes, takes, givesBack, stackUnknown }) => {
      const notes = [
        minutes === null ? '' : `${figure(minutes)} min`,
        [stackUnknown === true ? takeAllOut : '', pieces('put in', takes), pieces('take out', givesBack)]
          .filter(Boolean)
          .join(', '),
      ].filter(Boolean);
      return `${adjuster} ${withMinus(from)} → ${withMinus(to)}${notes.length > 0 ? ` (${notes.join('; ')})` : ''}`;
    });
    const open =
      access === null ? '' : `open ${access}${openMinutes > 0 ? ` (${figure(openMinutes)} min)` : ''}: `;
    return `${i + 1}. ${open}${what.join('; ')}`;
  });
  return [...lines, plannedBy(work), ...(stock === undefined ? [] : [drawerLine(stock)])];
}

/** Why the plan is as it is, for who has not read the guide. */
function plannedBy({ steps }: NonNullable<Advice['work']>): string {
  const isOpened = steps.some(({ access }) => access !== null);
  const isBuilt = steps.some(({ changes }) => changes.some(({ takes }) => takes !== undefined));
  const by = [
    ...(isOpened ? ['of access (nothing is opened twice)'] : []),
    ...(isBuilt ? ['of stock (the fewest pieces in all, from the drawer and from what comes out)'] : []),
  ];
  return `Planned by what machine.jsonc says ${by.join(' and ')}.`;
}

/** Said of a stack whose pieces nobody knows. */
export const takeAllOut =
  'take out all that is there, since its "stack" in machine.jsonc does not come to its setting';

/** What the drawer holds once the work is done as planned. */
export function drawerLine({ left }: NonNullable<Advice['stock']>): string {
  const holds = left.map(({ unit, mm, count }) => `${count} × ${figure(mm)} mm (${unit})`).join(', ');
  return `The drawer then holds ${holds}: write it under "stock".`;
}

/**
 * What is to be done about the drawer once work is recorded, since the next advice builds from what machine.jsonc says of it.
 *
 * @param isAsPlanned the proposal was followed; else nobody can say which pieces were used
 * @returns null without a drawer
 */
export function drawerAfter(stock: Advice['stock'], isAsPlanned: boolean): string | null {
  if (stock === undefined) return null;
  return isAsPlanned
    ? drawerLine(stock)
    : 'Count what the drawer holds now, and write it under "stock" in machine.jsonc.';
}

function pieces(word: string, list: readonly Pieces[] = []): string {
  return list.length === 0 ? '' : `${word} ${piecesWords(list)}`;
}

const figure = (value: number) => `${+value.toFixed(3)}`;
