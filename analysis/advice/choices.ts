/** Which settings each adjuster may be given: what the machine allows, keeps the level that is meant, and is not in doubt. */
import { levelSpan } from './level-span.ts';
import type { Adjuster } from '../machine/schema.ts';
import type { Belief } from './belief.ts';
import { contradiction } from './effects.ts';

/** Whole settings from `lo` to `hi`, both allowed. */
export interface SettingSpan {
  readonly lo: number;
  readonly hi: number;
}

export interface Choice {
  /** Index into the machine's adjusters. */
  readonly adjuster: number;
  /** Setting on the machine now; staying there is always allowed, even where it lies outside min and max. */
  readonly installed: number;
  /** Settings it may be changed to; empty where it is to stay. Ascending, none holds `installed`. */
  readonly spans: readonly SettingSpan[];
}

/**
 * Whether a take can tell that something is to be changed is judged group by group (question.ts); what is then changed may
 * be done by any number of units.
 *
 * @param widen how many units beyond min and max to allow, of locked adjusters and of kept levels too: to find out what a limit
 *   costs
 */
export function choicesOf(belief: Belief, widen = 0): Choice[] {
  const { adjusters } = belief.machine.description;
  return adjusters.map((adjuster, a) => {
    const { installed, locked } = adjuster;
    const left = widen === 0 && (locked === true || belief.held.has(a));
    const stays = left || contradiction(belief, a) !== null;
    if (stays || !actsOnMeasured(belief, a)) return { adjuster: a, installed, spans: [] };
    const level = (widen > 0 ? null : levelSpan(belief.machine, a)) ?? { lo: -Infinity, hi: Infinity };
    const lo = Math.max(adjuster.min - widen, Math.ceil(level.lo));
    const hi = Math.min(adjuster.max + widen, Math.floor(level.hi));
    const spans = [
      { lo, hi: Math.min(installed - 1, hi) },
      { lo: Math.max(installed + 1, lo), hi },
    ]
      .map((span) => strikes(adjuster, span))
      .filter(({ lo, hi }) => lo <= hi);
    return { adjuster: a, installed, spans };
  });
}

/** Whether it moves anything that was measured; of the rest nothing is known to change it for. */
function actsOnMeasured({ share }: Belief, a: number): boolean {
  return share.some((of) => of[a] !== 0);
}

/** A striker cannot fall through nothing: settings that leave no drop height are not allowed. */
function strikes({ perUnit }: Adjuster, span: SettingSpan): SettingSpan {
  if (!('dropMm' in perUnit) || perUnit.dropMm === 0) return span;
  const zero = -perUnit.dropHeightMm / perUnit.dropMm;
  return perUnit.dropMm > 0
    ? { lo: Math.max(span.lo, Math.floor(zero) + 1), hi: span.hi }
    : { lo: span.lo, hi: Math.min(span.hi, Math.ceil(zero) - 1) };
}
