/**
 * Spoils nothing: no group leaves its tolerance for the sake of one that stays out all the same. Where the least worst
 * lateness would do that, the groups that are farthest out are set aside, and the rest is planned as if they were not there.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import { installedOf, predict, type Belief } from './belief.ts';
import type { Plan } from './plan.ts';

export interface SparingPlan extends Plan {
  /** Indices of groups that no setting reaches without spoiling others. */
  readonly aside: readonly number[];
}

/** Of the groups that are out, those at this share or more of the farthest are set aside together. */
const FARTHEST_SHARE = 0.6;
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
  if (whole.outcome !== 'out-of-reach' || !spoils(belief, whole.settings, share))
    return { ...whole, aside: [] };
  const aside = new Set<number>();
  for (let i = 0; i < MOST_TIMES; i++) {
    const out = share.flatMap((now, g) => (now > 1 && !aside.has(g) ? [{ g, now }] : []));
    if (out.length === 0) break;
    const farthest = Math.max(...out.map(({ now }) => now));
    for (const { g, now } of out) if (now >= FARTHEST_SHARE * farthest) aside.add(g);
    const rest = without(belief, aside);
    if (rest.groups.length === 0) break;
    const plan = await planOf(rest, solve, run);
    if (!spoils(rest, plan.settings, standing(rest).share))
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
  const installed = installedOf(belief.machine);
  return { installed, share: shares(belief, installed) };
}

/** |Mean lateness| of each group as a share of its tolerance. */
function shares(belief: Belief, settings: readonly number[]): number[] {
  return predict(belief, settings).map(({ meanMs }, g) => Math.abs(meanMs) / belief.groups[g].toleranceMs);
}

/** Whether fewer groups are in tolerance than before, while some stay out. */
function spoils(belief: Belief, settings: readonly number[], before: readonly number[]): boolean {
  const after = shares(belief, settings);
  const count = (of: readonly number[]) => of.filter((share) => share <= 1).length;
  return after.some((share) => share > 1) && count(after) < count(before);
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
