/** Which groups stand in tolerance and which a plan takes out of it: one rule for planning and for all that is said of plans. */
import { installedOf, predict, type Belief, type BelievedGroup, type Prediction } from './belief.ts';
import { withinMs } from './question.ts';

/** Half-width that a take gives a group, ms; what may have happened since it was recorded is no matter of telling apart. */
function toldMs({ ci95Ms, measuredCi95Ms }: BelievedGroup): number {
  return Math.min(ci95Ms, measuredCi95Ms);
}

/**
 * A mean within ± this, ms, is in tolerance, or its take cannot tell it from one that is: what no plan would be made for is
 * not lost either.
 */
export function heldMs(group: BelievedGroup): number {
  const { toleranceMs } = group;
  const ci95Ms = toldMs(group);
  return Math.max(toleranceMs, withinMs({ toleranceMs, ci95Ms }) - ci95Ms);
}

/** |Mean lateness| of each group as a share of what counts as in tolerance. */
export function shares(belief: Belief, settings: readonly number[]): number[] {
  return predict(belief, settings).map(({ meanMs }, g) => Math.abs(meanMs) / heldMs(belief.groups[g]));
}

/** Shares that are computed twice differ by rounding. */
export const SLACK_SHARE = 1e-6;

export function isOut(share: number): boolean {
  return share > 1 + SLACK_SHARE;
}

export interface Leaving {
  /** Index of the group. */
  readonly g: number;
  readonly beforeMs: number;
  readonly afterMs: number;
}

/**
 * Groups that are in tolerance as the machine stands and not with these settings. One that stands at the very edge leaves it
 * where it goes farther out than its interval: by less nobody could tell.
 */
export function leavingWith(belief: Belief, settings: readonly number[]): Leaving[] {
  const now = predict(belief, installedOf(belief.machine));
  return predict(belief, settings).flatMap(({ meanMs: afterMs }, g) => {
    const beforeMs = now[g].meanMs;
    const [before, after] = [Math.abs(beforeMs), Math.abs(afterMs)];
    const held = heldMs(belief.groups[g]);
    const isLost = !isOut(before / held) && isOut(after / held) && after - before > toldMs(belief.groups[g]);
    return isLost ? [{ g, beforeMs, afterMs }] : [];
  });
}

/** How many groups surely lie within tolerance now, and how many of them settings no longer surely keep there. */
export interface Risk {
  readonly sure: number;
  readonly mayLeave: number;
}

/** What is foretold of a group is as wide as what the moved adjusters do is unknown; the reference is what others are timed against. */
export function riskOf(belief: Belief, settings: readonly number[]): Risk {
  const { groups, machine } = belief;
  const isSure = ({ meanMs, ci95Ms }: Prediction, g: number) =>
    groups[g].channel !== machine.reference && !isOut((Math.abs(meanMs) + ci95Ms) / groups[g].toleranceMs);
  const after = predict(belief, settings).map(isSure);
  const now = predict(belief, installedOf(machine)).map(isSure);
  const count = (of: readonly boolean[]) => of.filter(Boolean).length;
  return { sure: count(now), mayLeave: count(now.map((is, g) => is && !after[g])) };
}
