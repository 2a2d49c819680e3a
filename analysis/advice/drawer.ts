/** What lies in the drawer while a plan is carried out: a step may want pieces that only a later one gives back. */
import type { Machine } from '../machine/machine.ts';
import type { Pieces } from './pieces.ts';
import type { Built } from './stock.ts';

type UnitPieces = Pieces & { readonly unit: string };

export interface Drawer {
  /** How many pieces are lacked, at most at a time of each kind, when these adjusters are changed in this order. */
  readonly countLacked: (order: readonly number[]) => number;
  /** Which pieces those are, the thickest first. */
  readonly lackedIn: (order: readonly number[]) => UnitPieces[];
}

/** What comes out of a stack is there for the stack itself and for all after it. */
export function drawerOf({ description }: Machine, { stacks }: Built): Drawer {
  const { adjusters, stock = [] } = description;
  const keyOf = (unit: string, mm: number) => `${Math.round(1000 * mm)} ${unit}`;
  const kinds = new Map<string, UnitPieces>();
  for (const { unit, mm, count } of stock) {
    const key = keyOf(unit, mm);
    kinds.set(key, { unit, mm, count: count + (kinds.get(key)?.count ?? 0) });
  }
  const steps = new Map(
    stacks.map(({ adjuster, takes, givesBack }) => {
      const { unit } = adjusters[adjuster];
      const net = [...givesBack, ...takes.map(({ mm, count }) => ({ mm, count: -count }))];
      for (const { mm } of net)
        if (!kinds.has(keyOf(unit, mm))) kinds.set(keyOf(unit, mm), { unit, mm, count: 0 });
      return [adjuster, net.map(({ mm, count }) => ({ key: keyOf(unit, mm), count }))];
    }),
  );
  const lacked = (order: readonly number[]) => {
    const holds = new Map([...kinds].map(([key, { count }]) => [key, count]));
    const most = new Map<string, number>();
    for (const a of order)
      for (const { key, count } of steps.get(a) ?? []) {
        const then = holds.get(key)! + count;
        holds.set(key, then);
        if (then < 0) most.set(key, Math.max(most.get(key) ?? 0, -then));
      }
    return most;
  };
  return {
    countLacked: (order) => [...lacked(order).values()].reduce((sum, count) => sum + count, 0),
    lackedIn: (order) =>
      [...lacked(order)].map(([key, count]) => ({ ...kinds.get(key)!, count })).sort((a, b) => b.mm - a.mm),
  };
}
