/**
 * Which groups no setting brings within tolerance together with the others, effects taken as believed: the settings that
 * leave the least sum of what lies beyond tolerance leave as few groups out as they can (a sum of absolute values is least
 * where most of them are zero; Donoho 2006, Communications on Pure and Applied Mathematics 59:797, from memory). What is in
 * tolerance as the machine stands stays there.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import { NODE_LIMIT, SMALL } from './ask.ts';
import { installedOf, predict, type Belief } from './belief.ts';
import { choicesOf } from './choices.ts';
import { LinearProgram } from './linear-program.ts';
import { layChoice, layLateness, layLimits, layRoom } from './program.ts';
import { withinMs } from './question.ts';

/** Beyond its room by less than this share of tolerance a group is in reach. */
const LEAST_SHARE = 1e-3;

/** Indices of the groups that such settings leave out; none where the solver finds no settings within its nodes. */
export async function unreached(belief: Belief, solve: IntegerSolver, run: Run): Promise<number[]> {
  run.signal?.throwIfAborted();
  const { groups } = belief;
  const choices = choicesOf(belief);
  const lp = new LinearProgram();
  const changes = choices.map((choice) => layChoice(lp, belief, choice));
  layLimits(lp, belief, choices, changes);
  layLateness(lp, belief, choices, changes);
  const now = predict(belief, installedOf(belief.machine));
  groups.forEach((group, g) => {
    const room = Math.max(group.toleranceMs, withinMs(group) - group.ci95Ms);
    lp.between(`v${g}`, 0, Math.abs(now[g].meanMs) <= room ? 0 : undefined);
    lp.minimise([[`v${g}`, 1 / group.toleranceMs]]);
    layRoom(lp, g, room);
  });
  const large = groups.length * choices.length > SMALL;
  const { values, objective } = await solve(lp.text(large), { nodeLimit: NODE_LIMIT });
  if (objective === null) return [];
  return groups.flatMap(({ toleranceMs }, g) =>
    (values.get(`v${g}`) ?? 0) > LEAST_SHARE * toleranceMs ? [g] : [],
  );
}
