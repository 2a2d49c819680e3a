/** The least worst mean that a tempo or a tune alone could have: what all together cost it is told against that. */
import type { IntegerSolver, Run } from '../ports.ts';
import { Asker } from './ask.ts';
import { installedOf, worstMeanMs, type Belief } from './belief.ts';
import { choicesOf } from './choices.ts';

/**
 * Tolerances, costs and intervals have no say: a plan takes the fewest changes that are good enough, and is not the best there is.
 *
 * @param settings of the plan: what it leaves is had in any case
 * @returns ms; of a machine too large for the solver the least that the search finds
 * @throws the signal's reason when the run is stopped
 */
export async function leastAloneMs(
  belief: Belief,
  settings: readonly number[],
  solve: IntegerSolver,
  run: Run,
): Promise<number> {
  const installed = installedOf(belief.machine);
  const had = Math.min(worstMeanMs(belief, settings), worstMeanMs(belief, installed));
  if (had === 0 || belief.groups.length === 0) return had;
  // As shares of what is had, so that no group counts as out of tolerance and only the worst is made less.
  const groups = belief.groups.map((group) => ({
    ...group,
    ci95Ms: 0,
    measuredCi95Ms: 0,
    toleranceMs: had,
    allowedMs: undefined,
  }));
  const asker = new Asker({ ...belief, groups }, choicesOf(belief), solve, run);
  const least = await asker.ask({ aim: 'worst', weight: 0 }, installed);
  return Math.min(had, least === null ? had : worstMeanMs(belief, least));
}
