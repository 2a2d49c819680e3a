/** What each adjuster is believed to do a unit, and whether the takes contradict the machine's description of it. */
import { knownOrNull } from '../strokes/groups.ts';
import { NORMAL_95 } from '../numbers/normal.ts';
import { shiftMs } from '../machine/effects.ts';
import type { Adjuster } from '../machine/schema.ts';
import type { Advice } from '../results/results.ts';
import { type Belief } from './belief.ts';

type Effect = NonNullable<Advice['effects']>[number];

/** An adjuster that surely does less than this share of what geometry says does nothing: it is stuck, or moves other things. */
export const NOTHING = 1 / 3;

/**
 * What the takes say against the machine file; null where they agree or say nothing. An adjuster that contradicts it is
 * left alone until a person has looked: the file may be wrong about more than its size.
 */
export function contradiction(belief: Belief, a: number): 'wrong-way' | 'no-effect' | null {
  const { factor, from } = belief.effects[a];
  if (from !== 'takes') return null;
  const half = NORMAL_95 * Math.sqrt(belief.factorCovariance[a][a]);
  if (factor + half < 0 && factor < -NOTHING) return 'wrong-way';
  return Math.abs(factor) + half < NOTHING ? 'no-effect' : null;
}

/** One unit more from the setting now installed, or one unit less at the top of its range. */
export function effectsOf(belief: Belief): Effect[] {
  return belief.machine.description.adjusters.map((adjuster, a) => {
    const { factor, from } = belief.effects[a];
    const { installed, max } = adjuster;
    const unitMs =
      installed < max
        ? shiftOf(belief, adjuster, installed, installed + 1)
        : shiftOf(belief, adjuster, installed - 1, installed);
    const verdict = contradiction(belief, a);
    return {
      adjuster: adjuster.id,
      msPerUnit: knownOrNull(factor * unitMs),
      sdMs: knownOrNull(Math.sqrt(belief.factorCovariance[a][a]) * Math.abs(unitMs)),
      from,
      geometryMsPerUnit: knownOrNull(unitMs),
      ...(verdict === null ? {} : { verdict }),
    };
  });
}

/** Own shift in ms when an adjuster goes from one setting to another, by geometry. */
export function shiftOf(belief: Belief, adjuster: Adjuster, from: number, to: number): number {
  return shiftMs(adjuster, from, to, belief.machine.description, belief.secondsPerTurn);
}
