/**
 * Which groups no setting brings within tolerance together with the others, effects taken as believed: the settings that
 * leave the least sum of what lies beyond tolerance leave as few groups out as they can (a sum of absolute values is least
 * where most of them are zero; Donoho 2006, Communications on Pure and Applied Mathematics 59:797, from memory). What is in
 * tolerance as the machine stands stays there.
 */
import type { IntegerSolver, Run } from '../ports.ts';
import { SMALL } from './ask.ts';
import { predict, type Belief } from './belief.ts';
import { choicesOf } from './choices.ts';
import { LinearProgram } from './linear-program.ts';
import { layChoice, layLateness, layLimits } from './program.ts';
import { withinMs } from './question.ts';

const TIME_LIMIT_S = 2;
/** Beyond its room by less than this share of tolerance a group is in reach. */
const LEAST_SHARE = 1e-3;

/** Lateness that such settings leave each group that stays out, ms, by the group's index. */
export async function unreached(
  belief: Belief,
  solve: IntegerSolver,
  run: Run,
): Promise<ReadonlyMap<number, number>> {
  run.signal?.throwIfAborted();
  const { groups } = belief;
  const choices = choicesOf(belief);
  const lp = new LinearProgram();
  const changes = choices.map((choice) => layChoice(lp, belief, choice));
  layLimits(lp, belief, choices, changes);
  layLateness(lp, belief, choices, changes);
  const now = predict(
    belief,
    choices.map(({ installed }) => installed),
  );
  groups.forEach((group, g) => {
    const room = Math.max(group.toleranceMs, withinMs(group) - group.ci95Ms);
    lp.between(`v${g}`, 0, Math.abs(now[g].meanMs) <= room ? 0 : undefined);
    lp.minimise([[`v${g}`, 1 / group.toleranceMs]]);
    lp.constrain([[`L${g}`, 1], [`v${g}`, -1]], '<=', room); // prettier-ignore
    lp.constrain([[`L${g}`, -1], [`v${g}`, -1]], '<=', room); // prettier-ignore
  });
  const large = groups.length * choices.length > SMALL;
  const { values, objective } = await solve(lp.text(large), { timeLimitS: TIME_LIMIT_S });
  if (objective === null) return new Map();
  return new Map(
    groups.flatMap(({ toleranceMs }, g) =>
      (values.get(`v${g}`) ?? 0) > LEAST_SHARE * toleranceMs
        ? [[g, values.get(`L${g}`) ?? now[g].meanMs] as const]
        : [],
    ),
  );
}
