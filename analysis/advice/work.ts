/**
 * A plan as work: what is opened in which order, what is done there, and with which pieces. Nothing is opened twice, and as
 * far as that leaves it open, what moves much comes before what is set against it.
 */
import type { Machine } from '../machine/machine.ts';
import type { Advice } from '../results/results.ts';
import type { AllowedPlan } from './allowed-plan.ts';
import { installedOf, worstMeanMs, type Belief } from './belief.ts';
import { changedIn, changeMinutes, minutesOf, openingsOf } from './minutes.ts';
import { piecesWords } from './pieces.ts';
import { drawerOf, type Drawer } from './drawer.ts';
import type { Built } from './stock.ts';

type Work = NonNullable<Advice['work']>;
type NextSession = NonNullable<NonNullable<Work['session']>['next']>;

/** null where nothing is changed */
export function workOf(belief: Belief, allowed: AllowedPlan): Work | null {
  const { machine } = belief;
  const { plan, built, timed } = allowed;
  const changed = changedIn(machine, plan.settings);
  if (changed.length === 0 && timed === null) return null;
  const drawer = built === null ? undefined : drawerOf(machine, built);
  const stops = inOrder(belief, changed, drawer);
  const atHand = drawer?.lackedIn(stops.flatMap(({ adjusters }) => adjusters)) ?? [];
  return {
    minutes: known(minutesOf(machine, plan.settings)),
    steps: stops.map(({ access, adjusters }) => ({
      access: access === null ? null : machine.description.access![access].id,
      openMinutes: access === null ? 0 : machine.description.access![access].openMinutes,
      changes: adjusters.map((a) => ({
        adjuster: machine.description.adjusters[a].id,
        from: machine.description.adjusters[a].installed,
        to: plan.settings[a],
        minutes: known(changeMinutes(machine, a)),
        ...piecesOf(built, a),
      })),
    })),
    ...(atHand.length === 0 ? {} : { atHand }),
    ...(timed === null ? {} : { session: sessionOf(machine, timed) }),
  };
}

function piecesOf(built: Built | null, a: number) {
  const stack = built?.stacks.find(({ adjuster }) => adjuster === a);
  if (stack === undefined) return {};
  const { holds, takes, givesBack, isUnknown } = stack;
  return {
    holds: [...holds],
    takes: [...takes],
    givesBack: [...givesBack],
    ...(isUnknown ? { stackUnknown: true } : {}),
  };
}

function sessionOf(machine: Machine, { minutes, whole, next }: NonNullable<AllowedPlan['timed']>) {
  return {
    minutes,
    wholeMinutes: known(minutesOf(machine, whole.settings)),
    next:
      next === null
        ? null
        : {
            minutes: known(minutesOf(next.belief.machine, next.plan.settings)),
            settings: changedIn(next.belief.machine, next.plan.settings).map((a) => {
              const { id, unit, installed } = next.belief.machine.description.adjusters[a];
              return { adjuster: id, unit, installed, proposed: next.plan.settings[a] };
            }),
            worstBeforeMs: worstMeanMs(next.belief, installedOf(next.belief.machine)),
            worstAfterMs: worstMeanMs(next.belief, next.plan.settings),
          },
  };
}

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
export function inOrder(
  { machine, share }: Pick<Belief, 'machine' | 'share'>,
  changed: readonly number[],
  drawer?: Drawer,
): Stop[] {
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
    const against = flat.reduce((sum, a, i) => sum + flat.slice(i + 1).filter((b) => before(b, a)).length, 0);
    return LACKED * against + (drawer?.countLacked(flat) ?? 0);
  };
  const greedy = inside(ordered(stops, []));
  if (stops.length > MOST_PERMUTED || wrong(greedy) === 0) return greedy;
  return permutations(stops)
    .map(inside)
    .reduce((best, order) => (wrong(order) < wrong(best) ? order : best), greedy);

  function size({ adjusters }: Stop): number {
    return Math.max(...adjusters.map((a) => moved[a].size));
  }
}

/** What is adjusted before what moves it is set twice: worse than any number of pieces that are lacked for a while. */
const LACKED = 1e6;

function permutations<T>(of: readonly T[]): T[][] {
  if (of.length === 0) return [[]];
  return of.flatMap((first, i) => permutations(of.filter((_, j) => j !== i)).map((rest) => [first, ...rest]));
}

function known(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}

/** What the drawer holds afterwards, and what to buy where a few pieces more would do much; null without a drawer. */
export function stockOf(
  belief: Belief,
  { built, wanting, plan }: AllowedPlan,
): NonNullable<Advice['stock']> | null {
  if (built === null) return null;
  const worstMs = worstMeanMs(belief, plan.settings);
  const wishedMs = wanting === null ? worstMs : worstMeanMs(belief, wanting.plan.settings);
  const count = wanting?.built.buy.reduce((sum, pieces) => sum + pieces.count, 0) ?? 0;
  const isWorth = worstMs - wishedMs >= Math.max(MUCH_SHARE * worstMs, MUCH_MS) && count <= A_FEW;
  return {
    left: built.left.map(({ unit, mm, count: n }) => ({ unit, mm, count: n })),
    ...(wanting !== null && isWorth ? { buy: [...wanting.built.buy], worstWithMs: wishedMs } : {}),
  };
}

/** "A few" pieces more, and "much": so much of the worst lateness, and no less than that. Common practice, no source. */
const A_FEW = 12;
const MUCH_SHARE = 0.2;
const MUCH_MS = 0.2;

/** Whether the worst mean comes down by what is printed of it: a session may bring in others and leave that where it is. */
function bringsMore({ worstBeforeMs = Infinity, worstAfterMs }: NextSession): boolean {
  return Number(worstAfterMs.toFixed(1)) < Number(worstBeforeMs.toFixed(1));
}

/** Sentences for the summary: the time, what the next session brings, what the drawer lacks. */
export function meansWords(
  work: Work | null,
  stock: Advice['stock'] | null,
  worstAfterMs: number | null,
): string[] {
  const session = work?.session;
  const minutes = (value: number | null) => (value === null ? 'an unknown time' : `${+value.toFixed(1)} min`);
  const words: string[] = [];
  if (work !== null && session !== undefined) {
    const whole = session.wholeMinutes !== null && session.wholeMinutes > session.minutes;
    words.push(
      whole
        ? `This is what gains most in ${minutes(session.minutes)} (it takes ${minutes(work.minutes)}; all that would help takes ${minutes(session.wholeMinutes)}).`
        : `All that helps fits into ${minutes(session.minutes)}: it takes ${minutes(work.minutes)}.`,
    );
    if (session.next === null && whole)
      words.push(`Nothing more that helps fits into another ${minutes(session.minutes)}.`);
    if (session.next !== null && bringsMore(session.next))
      words.push(
        `The next session of as long would change ${session.next.settings.map(({ adjuster }) => adjuster).join(', ')} (${minutes(session.next.minutes)}) and bring the worst mean to ${session.next.worstAfterMs.toFixed(1)} ms.`,
      );
  } else if (work !== null && work.minutes !== null) words.push(`The work takes ${minutes(work.minutes)}.`);
  if (work?.atHand !== undefined)
    words.push(
      `In no good order of the work does the drawer do by itself: have ${piecesWords(work.atHand)} more at hand, which come out again in a later step, or take those stacks out first.`,
    );
  if (stock?.buy !== undefined && stock.worstWithMs !== undefined)
    words.push(
      `The drawer stands in the way: with ${piecesWords(stock.buy)} more the worst mean would come to ${stock.worstWithMs.toFixed(1)} ms instead of ${(worstAfterMs ?? 0).toFixed(1)} ms.`,
    );
  return words;
}
