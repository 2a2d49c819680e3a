/** Groups that no allowed setting brings within tolerance, were everything done for one of them alone. */
import { shiftOf } from './effects.ts';
import { installedOf, predict, type Belief } from './belief.ts';
import { choicesOf, type Choice } from './choices.ts';

/**
 * Indices of such groups, with effects as believed and limits on sums of settings left out. An adjuster that is left alone until
 * something is settled will move again, and counts.
 */
export function hopeless(belief: Belief): number[] {
  const choices = choicesOf({ ...belief, held: new Set() });
  const now = predict(belief, installedOf(belief.machine));
  const movesMs = choices.map((choice) => rangeMs(belief, choice));
  return belief.groups.flatMap(({ toleranceMs }, g) => {
    let [leastMs, mostMs] = [now[g].meanMs, now[g].meanMs];
    movesMs.forEach((ends, a) => {
      const own = ends.map((ms) => belief.share[g][a] * ms);
      leastMs += Math.min(...own);
      mostMs += Math.max(...own);
    });
    return leastMs > toleranceMs || mostMs < -toleranceMs ? [g] : [];
  });
}

/** Own shifts from where the adjuster stands to the ends of what it may be set to, ms; 0, where it may stay, among them. */
function rangeMs(belief: Belief, { adjuster: a, installed, spans }: Choice): number[] {
  const adjuster = belief.machine.description.adjusters[a];
  const ends = spans.flatMap(({ lo, hi }) => [lo, hi]);
  return [0, ...ends.map((end) => belief.effects[a].factor * shiftOf(belief, adjuster, installed, end))];
}
