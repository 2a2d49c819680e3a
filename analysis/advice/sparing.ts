/**
 * Spoils nothing: no group leaves its tolerance for the sake of one that stays out all the same, and none gets farther out
 * for one that nothing can bring in. Where the least worst lateness would do that, what nothing can bring in is set aside, then the
 * groups that are farthest out, and the rest is planned as if they were not there.
 * Of several tunes none is spoilt for another: what one of them could have by itself is not set aside, but planned
 * for as far as it goes while the others keep what they have.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import { grouped } from '../numbers/grouped.ts';
import { endMs, installedOf, predict, withoutGroups, type Belief } from './belief.ts';
import { hopeless } from './hopeless.ts';
import { heldMs, isOut, leavingWith, shares, SLACK_SHARE } from './leaving.ts';
import { movedPinsOf, type MovedPins } from './moved-pins.ts';
import type { Plan } from './plan.ts';
import { withinMs } from './question.ts';
import { unreached } from './unreached.ts';

export interface SparingPlan extends Plan {
  /** Indices of groups that no setting reaches without spoiling others. */
  readonly aside: readonly number[];
  /** The settings that leave the least worst lateness, whatever they spoil. */
  readonly least: readonly number[];
  /** Of several tunes that cannot all be had: by group the settings that its tune alone would have. */
  readonly apart?: readonly (readonly number[])[];
  /** Groups that are out since the pins of their tune alone moved, or may have: nothing that moves all tunes is changed for them. */
  readonly movedPins?: readonly MovedPins[];
}

type PlanOf = (belief: Belief, solve: IntegerSolver, run: Run) => Promise<Plan>;

/** Of the groups that are out, those at this share or more of the farthest are set aside together. */
const FARTHEST_SHARE = 0.6;
/** So many of all groups are few. */
const FEW_SHARE = 0.25;
/** Times that groups are set aside; whoever is left then stays as it is. */
const MOST_TIMES = 5;
/** The worst may get so much worse before that counts: less is the chance of a refit. */
const FARTHER = 1.05;

/** @param planOf the plan for a belief, whatever it does to groups that are in tolerance */
export async function sparingPlan(
  belief: Belief,
  planOf: PlanOf,
  solve: IntegerSolver,
  run: Run,
): Promise<SparingPlan> {
  const movedPins = movedPinsOf(belief);
  if (movedPins.length === 0) return plainPlan(belief, planOf, solve, run);
  const left = movedPins.flatMap(({ groups }) => groups);
  const plan = await plainPlan(allowing(belief, left), planOf, solve, run);
  const share = shares(belief, plan.settings);
  return {
    ...plan,
    outcome: left.some((g) => isOut(share[g])) ? 'out-of-reach' : plan.outcome,
    least: (await planOf(belief, solve, run)).settings,
    movedPins,
  };
}

async function plainPlan(
  belief: Belief,
  planOf: PlanOf,
  solve: IntegerSolver,
  run: Run,
): Promise<SparingPlan> {
  const planned = (of: Belief) => planOf(of, solve, run);
  const whole = await planned(belief);
  if (whole.outcome !== 'out-of-reach') return { ...whole, aside: [], least: whole.settings };
  const plan = { ...(await sparedPlan(belief, whole, planned, { solve, run })), least: whole.settings };
  // Where the tempi are what stands in the way, less than the least worst may still be had at no tempo's cost.
  const isGivenUp = isOverTempi(belief) && isAsInstalled(belief, plan) && !isAsInstalled(belief, whole);
  const isFine = !isGivenUp && leavingWith(belief, plan.settings).length === 0;
  return isFine ? plan : keepingPlan(belief, plan, planned);
}

function isAsInstalled({ machine }: Belief, { settings }: Plan): boolean {
  return installedOf(machine).every((setting, a) => setting === settings[a]);
}

/**
 * The plan that leaves every group where it is in tolerance, where as many are in tolerance with it as with the other. Where the drawer
 * stands in the way a few pieces more would do for both, so there the worst may wait for them; else it must not get farther out. Of
 * several tempi none pays for another: there what leaves has to bring in more than stays in without it.
 */
async function keepingPlan(
  belief: Belief,
  other: SparingPlan,
  planOf: (belief: Belief) => Promise<Plan>,
): Promise<SparingPlan> {
  const { installed, share } = standing(belief);
  const now = predict(belief, installed);
  const groups = belief.groups.map((group, g) => {
    if (!isOverTempi(belief)) return { ...group, kept: !isOut(share[g]) };
    // What each tempo asks for differs by a unit or two: to be sure of all would be to change nothing.
    const meanAtMostMs = Math.max(heldMs(group), Math.abs(now[g].meanMs));
    return isOut(share[g]) ? group : { ...group, meanAtMostMs };
  });
  // At several tempi a group is set aside at one of them alone: it is the same striker that the others plan for.
  const aside = isOverTempi(belief) ? [] : other.aside;
  const plan = await planOf(withoutGroups({ ...belief, groups }, new Set(aside)));
  const [out, otherOut] = [plan, other].map(({ settings }) => outOf(belief, settings));
  const mayBeFarther =
    belief.machine.description.stock !== undefined || (isOverTempi(belief) && out < otherOut);
  const isAsWell =
    leavingWith(belief, plan.settings).length === 0 &&
    out <= otherOut &&
    (mayBeFarther || !isFarther(belief, plan.settings, shares(belief, other.settings)));
  return isAsWell ? { ...other, ...plan, aside, outcome: outcomeOf(plan) } : other;
}

type SparedPlan = Omit<SparingPlan, 'least'>;

async function sparedPlan(
  belief: Belief,
  whole: Plan,
  planned: (belief: Belief) => Promise<Plan>,
  { solve, run }: { readonly solve: IntegerSolver; readonly run: Run },
): Promise<SparedPlan> {
  if (partsOf(belief).length > 1) return togetherPlan(belief, whole, planned);
  const alone = hopeless(belief);
  if (!isOverTempi(belief)) {
    const together = await unreached(belief, solve, run);
    const few = await withoutFew(belief, whole, [alone, [...new Set([...alone, ...together])]], planned);
    if (few !== null) return few;
  }
  const { installed, share } = standing(belief);
  if (!spoils(belief, whole.settings, share)) return { ...whole, aside: [] };
  const reached = withoutGroups(belief, new Set(alone));
  const reachedNow = standing(reached).share;
  const aside = new Set<number>();
  for (let i = 0; i < MOST_TIMES; i++) {
    const out = share.flatMap((now, g) => (isOut(now) && !aside.has(g) ? [{ g, now }] : []));
    if (out.length === 0) break;
    const farthest = Math.max(...out.map(({ now }) => now));
    for (const { g, now } of out) if (now >= FARTHEST_SHARE * farthest) aside.add(g);
    const rest = withoutGroups(belief, aside);
    if (rest.groups.length === 0) break;
    const plan = await planned(rest);
    const spoilt = spoils(rest, plan.settings, standing(rest).share);
    if (!spoilt && !isFarther(reached, plan.settings, reachedNow))
      return { ...plan, outcome: outcomeOf(plan), aside: [...aside] };
  }
  const stays = share.flatMap((now, g) => (isOut(now) ? [g] : []));
  return { outcome: 'out-of-reach', settings: installed, proven: false, gap: null, aside: stays };
}

/**
 * The plan for all but what nothing brings in, where that brings in every other group, or spares it from getting worse for those
 * that nothing brings in even alone.
 *
 * @param beyond indices of those that no setting brings in: even alone, and together with the others
 * @returns null where the plan for all of them does as well, or no few groups stand in the way
 */
async function withoutFew(
  belief: Belief,
  whole: Plan,
  [alone, together]: readonly [alone: readonly number[], together: readonly number[]],
  planOf: (belief: Belief) => Promise<Plan>,
): Promise<SparedPlan | null> {
  const isFew = together.length <= FEW_SHARE * belief.groups.length;
  for (const beyond of isFew ? [alone, together] : [alone]) {
    if (beyond.length === 0 || beyond.length === belief.groups.length) continue;
    const rest = withoutGroups(belief, new Set(beyond));
    if (outOf(rest, whole.settings) === 0) return null;
    const before = standing(rest).share;
    const isSpoilt = ({ settings }: Plan) =>
      spoils(rest, settings, before) || isFarther(rest, settings, before);
    const plan = await planOf(rest);
    const isSpared = beyond === alone && isSpoilt(whole) && !isSpoilt(plan);
    if (isSpared || outOf(rest, plan.settings) === 0)
      return { ...plan, outcome: outcomeOf(plan), aside: [...beyond] };
  }
  return null;
}

function isOverTempi({ groups }: Belief): boolean {
  return groups.some(({ bpm }) => bpm !== undefined);
}

/** Of each tune the indices of its groups. */
function partsOf({ groups }: Belief): number[][] {
  return [...grouped([...groups.keys()], (g) => groups[g].tune).values()];
}

/** A plan for several tunes of which none loses a group for another. */
async function togetherPlan(
  belief: Belief,
  whole: Plan,
  planOf: (belief: Belief) => Promise<Plan>,
): Promise<SparedPlan> {
  const parts = partsOf(belief);
  const { installed, share } = standing(belief);
  const own: (readonly number[])[] = [];
  const ownShare: number[] = [];
  for (const part of parts) {
    const members = new Set(part);
    const others = new Set([...share.keys()].filter((g) => !members.has(g)));
    const { settings } = await planOf(withoutGroups(belief, others));
    const then = shares(belief, settings);
    for (const g of part) [own[g], ownShare[g]] = [settings, then[g]];
  }
  const isSpoilt = (settings: readonly number[]) =>
    parts.some((part) => spoils(belief, settings, share, part));
  if (!isSpoilt(whole.settings)) return { ...whole, outcome: 'out-of-reach', aside: [], apart: own };
  const aside = share.flatMap((ratio, g) => (isOut(ratio) && isOut(ownShare[g]) ? [g] : []));
  const groups = allowing(belief, aside).groups.map((group, g) => ({ ...group, kept: !isOut(share[g]) }));
  const plan = await planOf({ ...belief, groups });
  const most = Math.max(...share) + SLACK_SHARE;
  return isSpoilt(plan.settings) || Math.max(...shares(belief, plan.settings)) > most
    ? { outcome: 'out-of-reach', settings: installed, proven: false, gap: null, aside, apart: own }
    : { ...plan, outcome: 'out-of-reach', aside, apart: own };
}

/** The belief with groups that are no reason to change anything: they may stand where they do. */
function allowing(belief: Belief, left: readonly number[]): Belief {
  if (left.length === 0) return belief;
  const now = predict(belief, installedOf(belief.machine));
  const groups = belief.groups.map((group, g) =>
    left.includes(g) ? { ...group, allowedMs: Math.max(withinMs(group), endMs(now[g])) } : group,
  );
  return { ...belief, groups };
}

/** All that is not set aside is as it should be: what was set aside is not. */
function outcomeOf({ outcome }: Plan): Plan['outcome'] {
  return outcome === 'nothing-to-do' ? 'out-of-reach' : outcome;
}

function standing(belief: Belief) {
  const installed = installedOf(belief.machine);
  return { installed, share: shares(belief, installed) };
}

/**
 * Whether more groups leave their tolerance than come into it, while some stay out.
 *
 * @param among indices of the groups that are counted; any may stay out
 */
function spoils(
  belief: Belief,
  settings: readonly number[],
  before: readonly number[],
  among: readonly number[] = [...before.keys()],
): boolean {
  const after = shares(belief, settings);
  const come = among.filter((g) => isOut(before[g]) && !isOut(after[g]));
  const leave = leavingWith(belief, settings).filter(({ g }) => among.includes(g));
  return after.some(isOut) && leave.length > come.length;
}

/** How many groups these settings leave out of tolerance. */
function outOf(belief: Belief, settings: readonly number[]): number {
  return shares(belief, settings).filter(isOut).length;
}

/** Whether some group comes to stand out of tolerance, and farther than any before. */
function isFarther(belief: Belief, settings: readonly number[], before: readonly number[]): boolean {
  return Math.max(...shares(belief, settings)) > FARTHER * Math.max(1, ...before);
}
