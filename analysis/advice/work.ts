/**
 * A plan as work: what is opened in which order, what is done there, and with which pieces. Nothing is opened twice, and as
 * far as that leaves it open, what moves much comes before what is set against it.
 */
import { knownOrNull } from '../strokes/groups.ts';
import type { Advice } from '../results/results.ts';
import type { AllowedPlan } from './allowed-plan.ts';
import { installedOf, predict, worstMeanMs, type Belief } from './belief.ts';
import { changedIn, changeMinutes, minutesOf } from './minutes.ts';
import { piecesWords } from './pieces.ts';
import { drawerOf } from './drawer.ts';
import { orderOfWork, stopsIn } from './order.ts';
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
  const order = built?.order ?? null;
  const stops = order === null ? orderOfWork(belief, changed, drawer) : stopsIn(machine, order);
  const atHand = drawer?.lackedIn(stops.flatMap(({ adjusters }) => adjusters)) ?? [];
  return {
    minutes: knownOrNull(minutesOf(machine, plan.settings)),
    steps: stops.map(({ access, adjusters }) => ({
      access: access === null ? null : machine.description.access![access].id,
      openMinutes: access === null ? 0 : machine.description.access![access].openMinutes,
      changes: adjusters.map((a) => ({
        adjuster: machine.description.adjusters[a].id,
        from: machine.description.adjusters[a].installed,
        to: plan.settings[a],
        minutes: knownOrNull(changeMinutes(machine, a)),
        ...piecesOf(built, a),
      })),
    })),
    ...(atHand.length === 0 ? {} : { atHand, ...(built?.isCut === true ? { atHandUnsure: true } : {}) }),
    ...(timed === null ? {} : { session: sessionOf(belief, plan.settings, timed) }),
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

/** Means beyond tolerance. */
function outOf(belief: Belief, settings: readonly number[]): number {
  return predict(belief, settings).filter(({ meanMs }, g) => Math.abs(meanMs) > belief.groups[g].toleranceMs)
    .length;
}

function sessionOf(
  belief: Belief,
  settings: readonly number[],
  { minutes, whole, next }: NonNullable<AllowedPlan['timed']>,
) {
  const { machine } = belief;
  return {
    minutes,
    wholeMinutes: knownOrNull(minutesOf(machine, whole.settings)),
    outBefore: outOf(belief, installedOf(machine)),
    outAfter: outOf(belief, settings),
    next:
      next === null
        ? null
        : {
            minutes: knownOrNull(minutesOf(next.belief.machine, next.plan.settings)),
            settings: changedIn(next.belief.machine, next.plan.settings).map((a) => {
              const { id, unit, installed } = next.belief.machine.description.adjusters[a];
              return { adjuster: id, unit, installed, proposed: next.plan.settings[a] };
            }),
            worstBeforeMs: worstMeanMs(next.belief, installedOf(next.belief.machine)),
            worstAfterMs: worstMeanMs(next.belief, next.plan.settings),
            outBefore: outOf(next.belief, installedOf(next.belief.machine)),
            outAfter: outOf(next.belief, next.plan.settings),
          },
  };
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

/** What a next session does, by what is printed of it: it may bring means in and leave the worst where it is. */
function bringing({
  worstBeforeMs = Infinity,
  worstAfterMs,
  outBefore = 0,
  outAfter = 0,
}: NextSession): string {
  const more = outBefore - outAfter;
  const isNearer = Number(worstAfterMs.toFixed(1)) < Number(worstBeforeMs.toFixed(1));
  return [
    ...(more > 0 ? [`${more} more ${more === 1 ? 'mean' : 'means'} within tolerance`] : []),
    ...(isNearer ? [`the worst mean to ${worstAfterMs.toFixed(1)} ms`] : []),
  ].join(' and ');
}

/** What a session's work brings in. */
function broughtIn({ outBefore = 0, outAfter = 0 }: NonNullable<Work['session']>): string[] {
  const came = outBefore - outAfter;
  if (came <= 0) return [];
  return [
    outAfter === 0
      ? 'It brings every mean that is out within tolerance.'
      : `It brings ${came} of the ${outBefore} means that are out within tolerance.`,
  ];
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
    const isNothing = whole && work.minutes === 0;
    words.push(
      isNothing
        ? `Nothing that helps fits into ${minutes(session.minutes)}: all that would help takes ${minutes(session.wholeMinutes)}.`
        : whole
          ? `This is what gains most in ${minutes(session.minutes)} (it takes ${minutes(work.minutes)}; all that would help takes ${minutes(session.wholeMinutes)}).`
          : `All that helps fits into ${minutes(session.minutes)}: it takes ${minutes(work.minutes)}.`,
      ...(whole ? broughtIn(session) : []),
    );
    if (session.next === null && whole && !isNothing)
      words.push(`Nothing more that helps fits into another ${minutes(session.minutes)}.`);
    const bring = session.next === null ? '' : bringing(session.next);
    if (session.next !== null && bring !== '')
      words.push(
        `The next session of as long would change ${session.next.settings.map(({ adjuster }) => adjuster).join(', ')} (${minutes(session.next.minutes)}) and bring ${bring}.`,
      );
  } else if (work !== null && work.minutes !== null) words.push(`The work takes ${minutes(work.minutes)}.`);
  if (work?.atHand !== undefined)
    words.push(
      `${work.atHandUnsure === true ? 'Of the orders of the work and the stacks of as few pieces that were tried, and not all could be, in none' : 'With stacks of as few pieces, in no good order of the work'} does the drawer do by itself: have ${piecesWords(work.atHand)} more at hand, which come out again in a later step, or take those stacks out first.`,
    );
  if (stock?.buy !== undefined && stock.worstWithMs !== undefined)
    words.push(
      `The drawer stands in the way: with ${piecesWords(stock.buy)} more the worst mean would come to ${stock.worstWithMs.toFixed(1)} ms instead of ${(worstAfterMs ?? 0).toFixed(1)} ms.`,
    );
  return words;
}
