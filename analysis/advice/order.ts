/** In which order the work is done: nothing is opened twice, and what moves much comes before what is set against it. */
import type { Machine } from '../machine/machine.ts';
import type { Belief } from './belief.ts';
import type { Drawer } from './drawer.ts';
import { openingsOf } from './minutes.ts';

/** Adjusters that are changed behind one opening; null: nothing is opened for them. */
export interface Stop {
  readonly access: number | null;
  readonly adjusters: readonly number[];
}

/** More openings than this are put in order greedily. */
const MOST_PERMUTED = 7;

/**
 * What moves more groups, and all that another moves among them, comes first: a joint before the levers of its sector. As far as
 * that leaves it open, what gives pieces back comes before what needs them.
 *
 * @param changed indices of the adjusters that are changed
 * @param drawer  what is in it while the work is done; absent where nothing is built from one
 */
export function orderOfWork(
  belief: Pick<Belief, 'machine' | 'share'>,
  changed: readonly number[],
  drawer?: Drawer,
): Stop[] {
  const { stops, before } = rulesOf(belief, changed);
  /** Of those that are left to do, the one that is next. */
  const next = (left: readonly Stop[], done: readonly number[]): Stop => {
    const flat = (of: readonly Stop[]) => of.flatMap(({ adjusters }) => adjusters);
    const ready = left.filter((stop) => {
      const others = flat(left.filter((one) => one !== stop));
      return stop.adjusters.every((b) => !others.some((a) => before(a, b)));
    });
    const among = ready.length > 0 ? ready : left;
    const lack = (stop: Stop) => drawer?.countLacked([...done, ...stop.adjusters]) ?? 0;
    return among.reduce((best, stop) => (lack(stop) < lack(best) ? stop : best));
  };
  const ordered = (of: readonly Stop[], done: readonly number[]): Stop[] => {
    const order: Stop[] = [];
    let left = [...of];
    while (left.length > 0) {
      const stop = next(left, [...done, ...order.flatMap(({ adjusters }) => adjusters)]);
      order.push(stop);
      left = left.filter((one) => one !== stop);
    }
    return order;
  };
  /** Within each stop, one after the other. */
  const inside = (order: readonly Stop[]): Stop[] => {
    const done: number[] = [];
    return order.map(({ access, adjusters }) => {
      const single = adjusters.map((a): Stop => ({ access, adjusters: [a] }));
      const own = ordered(single, done).flatMap((one) => one.adjusters);
      done.push(...own);
      return { access, adjusters: own };
    });
  };
  const wrong = (order: readonly Stop[]) => {
    const flat = order.flatMap(({ adjusters }) => adjusters);
    return LACKED * againstIn(flat, before) + (drawer?.countLacked(flat) ?? 0);
  };
  const greedy = inside(ordered(stops, []));
  if (stops.length > MOST_PERMUTED || wrong(greedy) === 0) return greedy;
  return permutations(stops)
    .map(inside)
    .reduce((best, order) => (wrong(order) < wrong(best) ? order : best), greedy);
}

/** What is opened, and what comes before what, whatever lies in the drawer. */
export interface Rules {
  /** What moves most comes first. */
  readonly stops: readonly Stop[];
  /** Whether b is set against a, which moves all that b moves and more. */
  readonly before: (a: number, b: number) => boolean;
}

export function rulesOf(
  { machine, share }: Pick<Belief, 'machine' | 'share'>,
  changed: readonly number[],
): Rules {
  const moved = machine.description.adjusters.map(
    (_, a) => new Set(share.flatMap((of, g) => (of[a] === 0 ? [] : [g]))),
  );
  const before = (a: number, b: number) =>
    moved[a].size > moved[b].size && moved[b].size > 0 && [...moved[b]].every((g) => moved[a].has(g));
  const sorted = [...changed].sort((a, b) => moved[b].size - moved[a].size || a - b);
  const openings = openingsOf(machine);
  const behind = openings.map(({ access, members }): Stop => ({
    access,
    adjusters: sorted.filter((a) => members.includes(a)),
  }));
  const free = sorted.filter((a) => openings.every(({ members }) => !members.includes(a)));
  const stops = [
    ...behind.filter(({ adjusters }) => adjusters.length > 0),
    ...free.map((a): Stop => ({ access: null, adjusters: [a] })),
  ].sort((p, q) => size(q) - size(p));
  return { stops, before };

  function size({ adjusters }: Stop): number {
    return Math.max(...adjusters.map((a) => moved[a].size));
  }
}

/** How often in this order something is adjusted before what moves it. */
export function againstIn(order: readonly number[], before: Rules['before']): number {
  return order.reduce((sum, a, i) => sum + order.slice(i + 1).filter((b) => before(b, a)).length, 0);
}

/** The stops that an order of adjusters makes. */
export function stopsIn(machine: Machine, order: readonly number[]): Stop[] {
  const openings = openingsOf(machine);
  const accessOf = (a: number) => openings.find(({ members }) => members.includes(a))?.access ?? null;
  const stops: Stop[] = [];
  for (const a of order) {
    const access = accessOf(a);
    const last = stops.at(-1);
    if (last !== undefined && access !== null && last.access === access)
      stops[stops.length - 1] = { access, adjusters: [...last.adjusters, a] };
    else stops.push({ access, adjusters: [a] });
  }
  return stops;
}

/** What is adjusted before what moves it is set twice: worse than any number of pieces that are lacked for a while. */
const LACKED = 1e6;

function permutations<T>(of: readonly T[]): T[][] {
  if (of.length === 0) return [[]];
  return of.flatMap((first, i) => permutations(of.filter((_, j) => j !== i)).map((rest) => [first, ...rest]));
}
