/**
 * What a builder allows advice to do to a channel's loudness (`keepLevel`). Only what changes how far a striker falls changes how hard
 * it strikes: the level goes with the speed of the blow, √(2gh). Shims, levers and rings move when it strikes, not how hard.
 */
import { knownOrNull } from '../strokes/groups.ts';
import { dropHeightMm, dropLevelDb } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice } from '../results/results.ts';
import { installedOf, predict, worstMeanMs, type Belief } from './belief.ts';
import { isOut, shares } from './leaving.ts';
import { changedIn, costOfPlan } from './minutes.ts';
import { keptBy, SLACK_DB } from './level-span.ts';
import type { Plan } from './plan.ts';
import { stockAllows } from './stock.ts';

/** Costs that are summed differ by rounding. */
const SLACK_COST = 1e-6;
/** Out of reach, a plan without a drop height does as well where its worst mean is at most so much larger. */
const AS_WELL = 1.05;
/** … or larger by no more than this share of the interval that is foretold: as "nearly as good" is of plans. */
const UNTOLD = 0.25;

/** The machine with nothing said of loudness. */
export function withoutLevels(belief: Belief): Belief {
  const { description } = belief.machine;
  const channels = description.channels.map((channel) => ({ ...channel, keepLevel: undefined }));
  return { ...belief, machine: { ...belief.machine, description: { ...description, channels } } };
}

type PlanOf = (belief: Belief, solve: IntegerSolver, run: Run) => Promise<Plan>;

/**
 * Plans that leave the drop height of a channel whose level is kept alone where a lever does as well, at no more cost: bounded, its
 * level would still change.
 */
export function preferringLevers(planOf: PlanOf): PlanOf {
  return async (belief, solve, run) => {
    let best = await planOf(belief, solve, run);
    const { machine } = belief;
    const isMoved = (a: number) =>
      best.settings[a] !== machine.description.adjusters[a].installed && keptBy(machine, a).length > 0;
    const moved = [...best.settings.keys()].filter(isMoved);
    let held = belief.held;
    // All at once, else one after the other.
    for (const heights of [moved, ...moved.map((a) => [a])]) {
      const still = heights.filter(isMoved);
      if (still.length === 0) continue;
      const without = new Set([...held, ...still]);
      const other = withoutNeedless(belief, await planOf({ ...belief, held: without }, solve, run), best);
      if (doesAsWell(belief, other, best)) [best, held] = [other, without];
    }
    return best;
  };
}

/** Of a plan that leaves tolerance out of reach, what it changes beyond another and nothing is worse without is left as installed. */
function withoutNeedless(belief: Belief, plan: Plan, other: Plan): Plan {
  if (plan.outcome !== 'out-of-reach') return plan;
  const installed = installedOf(belief.machine);
  return changedIn(belief.machine, plan.settings)
    .filter((a) => other.settings[a] === installed[a])
    .reduce((left, a) => {
      const settings = left.settings.map((setting, b) => (a === b ? installed[b] : setting));
      const isAllowed = keepsSums(belief.machine, settings) && stockAllows(belief.machine, settings);
      return isAllowed && leavesNearlyAsLittle(belief, { ...left, settings }, left)
        ? { ...left, settings }
        : left;
    }, plan);
}

/** Whether each sum that is bounded keeps its bounds, or nothing of it is changed. */
function keepsSums({ description }: Machine, settings: readonly number[]): boolean {
  return description.limits.every(({ adjusters: ids, sumMin = -Infinity, sumMax = Infinity }) => {
    const members = description.adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
    const sum = members.reduce((total, a) => total + settings[a], 0);
    return (
      (sum >= sumMin && sum <= sumMax) ||
      members.every((a) => settings[a] === description.adjusters[a].installed)
    );
  });
}

function doesAsWell(belief: Belief, other: Plan, best: Plan): boolean {
  return (
    other.outcome === best.outcome &&
    costOfPlan(belief.machine, other.settings) <= costOfPlan(belief.machine, best.settings) + SLACK_COST &&
    (best.outcome !== 'out-of-reach' || leavesNearlyAsLittle(belief, other, best))
  );
}

/**
 * Two adjusters that are both unsure, each moved by less, leave a narrower interval than one that does it all: no reason to change
 * how loud a channel is. So what the means come to is compared, and a difference that the next take could not tell is none.
 */
function leavesNearlyAsLittle(belief: Belief, other: Plan, best: Plan): boolean {
  const [then, bestThen] = [other, best].map(({ settings }) => predict(belief, settings));
  const differing = then.filter(({ meanMs }, g) => meanMs !== bestThen[g].meanMs);
  const untoldMs = UNTOLD * Math.max(0, ...differing.map(({ ci95Ms }) => ci95Ms));
  const [worstMs, leastMs] = [other, best].map(({ settings }) => worstMeanMs(belief, settings));
  const [outOf, bestOutOf] = [other, best].map(({ settings }) => shares(belief, settings).map(isOut));
  const count = (of: readonly boolean[]) => of.filter(Boolean).length;
  // What another group leaves as the worst must not hide that one is left where it was.
  const isNone = then.every(({ meanMs, ci95Ms }, g) => {
    const bestMs = Math.abs(bestThen[g].meanMs);
    return !outOf[g] || Math.abs(meanMs) <= Math.max(AS_WELL * bestMs, bestMs + UNTOLD * ci95Ms);
  });
  return (
    worstMs <= Math.max(AS_WELL * leastMs, leastMs + untoldMs) && isNone && count(outOf) <= count(bestOutOf)
  );
}

type Loudness = NonNullable<Advice['loudness']>;

/**
 * What a plan does to the levels that are kept; null of a machine that keeps none.
 *
 * @param withoutBoundMs largest mean lateness that a plan without the bound would leave; null where the bound is in nothing's way
 */
export function loudnessOf(
  machine: Machine,
  settings: readonly number[],
  withoutBoundMs: number | null,
): Loudness | null {
  const { channels, adjusters } = machine.description;
  if (channels.every(({ keepLevel }) => keepLevel === undefined)) return null;
  const rows = adjusters.flatMap((adjuster, a) =>
    keptBy(machine, a).map(({ channel, withinDb, meantMm }) => {
      const db = (setting: number) => knownOrNull(dropLevelDb(meantMm, dropHeightMm(adjuster, setting)));
      return {
        channel: channels[channel].id,
        adjuster: adjuster.id,
        withinDb,
        beforeDb: db(adjuster.installed),
        afterDb: db(settings[a]),
      };
    }),
  );
  return { rows, ...(withoutBoundMs === null ? {} : { withoutBoundMs }) };
}

/** In sentences: what changes, what lies beyond its bound, what is left alone since nothing tells. */
export function loudnessWords(machine: Machine, { rows, withoutBoundMs }: Loudness): string[] {
  const meant = (id: string) =>
    machine.description.channels.find((channel) => channel.id === id)?.keepLevel?.dropHeightMm;
  const size = (db: number) => `${Math.abs(db).toFixed(1)} dB ${db < 0 ? 'fainter' : 'louder'}`;
  const said = rows.flatMap(({ channel, adjuster, withinDb, beforeDb, afterDb }) => {
    if (beforeDb === null || afterDb === null)
      return [`What ${adjuster} does to the loudness of ${channel} is not known, so it is left alone.`];
    const from = `that of ${meant(channel)} mm`;
    if (Math.abs(afterDb) > withinDb + 2 * SLACK_DB)
      return [
        `${channel} is ${size(afterDb)} than ${from} by the height of ${adjuster}, beyond the ${withinDb} dB that are allowed.`,
      ];
    if (beforeDb === afterDb) return [];
    return [`${channel} will be ${size(afterDb)} than ${from}, within its ${withinDb} dB.`];
  });
  return withoutBoundMs === undefined
    ? said
    : [
        ...said,
        `If loudness were let go, the largest mean lateness would come to ${withoutBoundMs.toFixed(1)} ms.`,
      ];
}
