/**
 * Spoils nothing: no group leaves its tolerance for the sake of one that stays out all the same, and none that can be
 * reached gets worse for it. What no setting reaches is set aside, and the rest is planned as if it were not there, but for
 * this: what is set aside gets no worse than it is, or than bringing in the others makes it. Where the plan would spoil
 * all the same, those that are farthest out are set aside too.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import { predict, type Belief } from './belief.ts';
import type { Plan } from './plan.ts';
import { unreached } from './unreached.ts';

export interface SparingPlan extends Plan {
  /** Indices of groups that no setting reaches without spoiling others. */
  readonly aside: readonly number[];
}

/** Of the groups that are out, those at this share or more of the farthest are set aside together. */
const FARTHEST_SHARE = 0.6;
/** The worst may become so much worse before that counts as spoilt: less is chance. */
const FARTHER = 1.05;
/** So many tolerances out and out of reach, a group may get worse by what brings the others in. Chosen, no source. */
const HOPELESS = 3;
/** Times that groups are set aside; whoever is left then stays as it is. */
const MOST_TIMES = 5;

/** @param planOf the plan for a belief, whatever it does to groups that are in tolerance */
export async function sparingPlan(
  belief: Belief,
  planOf: (belief: Belief, solve: IntegerSolver, run: Run) => Promise<Plan>,
  solve: IntegerSolver,
  run: Run,
): Promise<SparingPlan> {
  const whole = await planOf(belief, solve, run);
  const { installed, share } = standing(belief);
  if (whole.outcome !== 'out-of-reach') return { ...whole, aside: [] };
  const beyond = await unreached(belief, solve, run);
  const rest = without(belief, new Set(beyond.keys()));
  const restNow = standing(rest).share;
  if (beyond.size > 0 && (spoils(rest, whole.settings, restNow) || out(rest, whole.settings) > 0)) {
    const plan = await planOf(letBe(belief, beyond), solve, run);
    const better =
      spoils(belief, whole.settings, share) ||
      spoils(rest, whole.settings, restNow) ||
      out(rest, plan.settings) < out(rest, whole.settings);
    if (better && !spoils(rest, plan.settings, restNow) && mayBeLet(belief, plan.settings, beyond, share))
      return { ...plan, outcome: outcomeOf(plan), aside: [...beyond.keys()] };
  }
  if (!spoils(belief, whole.settings, share) && !spoils(rest, whole.settings, restNow))
    return { ...whole, aside: [] };
  const aside = new Set(beyond.keys());
  for (let i = 0; i < MOST_TIMES; i++) {
    const farOut = share.flatMap((now, g) => (now > 1 && !aside.has(g) ? [{ g, now }] : []));
    if (farOut.length === 0) break;
    const farthest = Math.max(...farOut.map(({ now }) => now));
    for (const { g, now } of farOut) if (now >= FARTHEST_SHARE * farthest) aside.add(g);
    const left = without(belief, aside);
    if (left.groups.length === 0) break;
    const plan = await planOf(left, solve, run);
    if (!spoils(left, plan.settings, standing(left).share))
      return { ...plan, outcome: outcomeOf(plan), aside: [...aside] };
  }
  const stays = share.flatMap((now, g) => (now > 1 ? [g] : []));
  return { outcome: 'out-of-reach', settings: installed, proven: false, gap: null, aside: stays };
}

/** All that is not set aside is as it should be: what was set aside is not. */
function outcomeOf({ outcome }: Plan): Plan['outcome'] {
  return outcome === 'nothing-to-do' ? 'out-of-reach' : outcome;
}

function standing(belief: Belief) {
  const installed = belief.machine.description.adjusters.map((adjuster) => adjuster.installed);
  return { installed, share: shares(belief, installed) };
}

/** |Mean lateness| of each group as a share of its tolerance. */
function shares(belief: Belief, settings: readonly number[]): number[] {
  return predict(belief, settings).map(({ meanMs }, g) => Math.abs(meanMs) / belief.groups[g].toleranceMs);
}

/** How many groups settings leave out of tolerance. */
function out(belief: Belief, settings: readonly number[]): number {
  return shares(belief, settings).filter((share) => share > 1).length;
}

/** Whether, while some stay out, fewer groups are in tolerance than before or the worst is worse. */
function spoils(belief: Belief, settings: readonly number[], before: readonly number[]): boolean {
  const after = shares(belief, settings);
  const worst = Math.max(0, ...after);
  if (worst <= 1) return false;
  const count = (of: readonly number[]) => of.filter((share) => share <= 1).length;
  return count(after) < count(before) || worst > FARTHER * Math.max(1, ...before);
}

/** Whether what is set aside gets no worse, but for what is hopeless. */
function mayBeLet(
  belief: Belief,
  settings: readonly number[],
  beyond: ReadonlyMap<number, number>,
  before: readonly number[],
): boolean {
  const after = shares(belief, settings);
  return [...beyond.keys()].every(
    (g) => before[g] >= HOPELESS || after[g] <= FARTHER * Math.max(1, before[g]),
  );
}

/** Groups that stay out are in tolerance as far as they are now, or as bringing in the others leaves them. */
function letBe(belief: Belief, beyond: ReadonlyMap<number, number>): Belief {
  const now = predict(belief, standing(belief).installed);
  return {
    ...belief,
    groups: belief.groups.map((group, g) => {
      const left = beyond.get(g);
      if (left === undefined) return group;
      const toleranceMs = Math.max(Math.abs(left), Math.abs(now[g].meanMs)) + group.ci95Ms;
      return { ...group, toleranceMs };
    }),
  };
}

function without(belief: Belief, aside: ReadonlySet<number>): Belief {
  const kept = <T>(of: readonly T[]) => of.filter((_, g) => !aside.has(g));
  return {
    ...belief,
    groups: kept(belief.groups),
    share: kept(belief.share),
    groupCovariance: kept(belief.groupCovariance),
  };
}
