/**
 * What a builder allows advice to do to a channel's loudness (`keepLevel`). Only what changes how far a striker falls changes how hard
 * it strikes: the level goes with the speed of the blow, √(2gh). Shims, levers and rings move when it strikes, not how hard.
 */
import { dropHeightMm, dropLevelDb, moves } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice } from '../results/results.ts';
import { predict, worstMeanMs, type Belief } from './belief.ts';
import { isOut, shares } from './leaving.ts';
import { costOfPlan } from './minutes.ts';
import type { Plan } from './plan.ts';

/** Heights that are computed differ by rounding. */
const SLACK_DB = 1e-6;
const SLACK_COST = 1e-6;
/** Out of reach, a plan without a drop height does as well where its worst mean is at most so much larger. */
const AS_WELL = 1.05;
/** … or larger by no more than this share of the interval that is foretold: as "nearly as good" is of plans. */
const UNTOLD = 0.25;

/** A channel whose level is kept, and an adjuster that may change it. */
interface Kept {
  /** Index into the machine's channels. */
  readonly channel: number;
  readonly withinDb: number;
  /** The drop height whose level is meant, mm; NaN where what an adjuster does to the level is not known. */
  readonly meantMm: number;
}

/** What of the level is kept an adjuster may change: empty of shims, levers and rings, and of a machine that keeps none. */
export function keptBy(machine: Machine, a: number): Kept[] {
  const { channels, adjusters } = machine.description;
  const { perUnit, shifts } = adjusters[a];
  const isDrop = 'dropMm' in perUnit;
  // What is given in ms of a channel may be its height as well as anything else.
  if (!isDrop && !('ms' in perUnit && shifts.channels !== undefined)) return [];
  return channels.flatMap(({ keepLevel }, channel) => {
    const isMoved = moves(machine, adjusters[a], channel, null);
    if (keepLevel === undefined || !(isMoved || isCoupled(machine, a, channel))) return [];
    const isKnown = isDrop && isMoved && isOnlyDrop(machine, a, channel);
    const meantMm = isKnown ? (keepLevel.dropHeightMm ?? NaN) : NaN;
    return [{ channel, withinDb: keepLevel.withinDb, meantMm }];
  });
}

function isCoupled({ description }: Machine, a: number, channel: number): boolean {
  const { id } = description.channels[channel];
  return (description.adjusters[a].alsoShifts ?? []).some(({ channels }) => channels?.includes(id) ?? true);
}

/** Of two heights of one striker in one sector nobody can tell which one it falls through. */
function isOnlyDrop(machine: Machine, a: number, channel: number): boolean {
  const { adjusters, barrel } = machine.description;
  return adjusters.every(
    (other, b) =>
      b === a ||
      !('dropMm' in other.perUnit) ||
      barrel.sectors.every(
        (_, sector) =>
          !moves(machine, other, channel, sector) || !moves(machine, adjusters[a], channel, sector),
      ),
  );
}

/** Settings that keep the level, not whole; null where all do. Empty (`lo` above `hi`) where none is known to. */
export function levelSpan(machine: Machine, a: number): { readonly lo: number; readonly hi: number } | null {
  const kept = keptBy(machine, a);
  if (kept.length === 0) return null;
  const { perUnit } = machine.description.adjusters[a];
  if (!('dropMm' in perUnit) || kept.some(({ meantMm }) => Number.isNaN(meantMm))) return { lo: 1, hi: 0 };
  const ends = kept.map(({ meantMm, withinDb }) =>
    // The level goes with 10·log10 of the height.
    [-1, 1].map(
      (sign) =>
        (meantMm * 10 ** ((sign * (withinDb + SLACK_DB)) / 10) - perUnit.dropHeightMm) / perUnit.dropMm,
    ),
  );
  return {
    lo: Math.max(...ends.map((pair) => Math.min(...pair))),
    hi: Math.min(...ends.map((pair) => Math.max(...pair))),
  };
}

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
      const other = await planOf({ ...belief, held: without }, solve, run);
      if (doesAsWell(belief, other, best)) [best, held] = [other, without];
    }
    return best;
  };
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
  const isOutOf = ({ settings }: Plan) => shares(belief, settings).filter(isOut).length;
  return worstMs <= Math.max(AS_WELL * leastMs, leastMs + untoldMs) && isOutOf(other) <= isOutOf(best);
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
      const db = (setting: number) => {
        const value = dropLevelDb(meantMm, dropHeightMm(adjuster, setting));
        return Number.isFinite(value) ? value : null;
      };
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
