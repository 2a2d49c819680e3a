/**
 * What a person says of each proposed change before it is noted: fitted, another number, or left for later. Ticks in the table
 * and the way through the work say the same thing here; the page keeps it over a reload.
 */
import { z } from 'zod';
import { withMinus } from '../../analysis/words/minus.ts';

export const saidSchema = z.object({
  adjuster: z.string(),
  /** The change that was proposed when it was said; of another one it says nothing. */
  from: z.number().int(),
  to: z.number().int(),
  /** A number is what was fitted instead. */
  what: z.union([z.enum(['fitted', 'skipped']), z.number().int()]),
});
export type Said = z.output<typeof saidSchema>;

/** A proposed change of an adjuster. */
export type Change = Pick<Said, 'adjuster' | 'from' | 'to'>;

const isOf =
  (change: Change) =>
  ({ adjuster, from, to }: Said) =>
    adjuster === change.adjuster && from === change.from && to === change.to;

/** @returns null where nothing is said of this change yet */
export function saidOf(said: readonly Said[], change: Change): Said['what'] | null {
  return said.find(isOf(change))?.what ?? null;
}

/** @param what null takes back what was said */
export function saying(said: readonly Said[], change: Change, what: Said['what'] | null): Said[] {
  const { adjuster, from, to } = change;
  const others = said.filter((each) => !isOf(change)(each));
  return what === null ? others : [...others, { adjuster, from, to, what }];
}

/** What was said of changes that are proposed no longer, and so counts for nothing. */
export function overtaken(said: readonly Said[], changes: readonly Change[]): Said[] {
  return said.filter((each) => each.what !== 'skipped' && !changes.some((change) => isOf(change)(each)));
}

/** What is to be noted as fitted, as the editor is told. */
export function fittedOf(said: readonly Said[], changes: readonly Change[]) {
  const adjusters: string[] = [];
  const others: { adjuster: string; setting: number }[] = [];
  for (const change of changes) {
    const what = saidOf(said, change);
    if (what === 'fitted') adjusters.push(change.adjuster);
    else if (typeof what === 'number') others.push({ adjuster: change.adjuster, setting: what });
  }
  return { adjusters, others };
}

/** "lever-drum 4 → 5 fitted", "joint-AB: 3 instead of 4": one line of the summary. */
export function saidWords({ adjuster, from, to }: Change, what: Said['what'] | null): string {
  if (what === 'fitted' || what === to) return `${adjuster} ${withMinus(from)} → ${withMinus(to)} fitted`;
  if (typeof what === 'number') return `${adjuster}: ${withMinus(what)} instead of ${withMinus(to)}`;
  const why = what === 'skipped' ? 'skipped' : 'nothing said yet';
  return `${adjuster}: ${why}, ${withMinus(from)} → ${withMinus(to)} stays proposed`;
}
