/**
 * Knowing when to stop: whether all is good enough, whether what remains is below what the take can measure and how many
 * turns would resolve it, and where pins of one group scatter more than anything that moves them all alike can mend.
 */
import type { Advice, EarlierReport } from '../results/results.ts';
import { SLACK_MS } from './ask.ts';
import { endMs, predict, type Belief } from './belief.ts';
import { goodEnough, type Plan } from './plan.ts';
import { turnsHeard } from './take-noise.ts';

export type Step = NonNullable<Advice['step']>;

export function adviceStep(belief: Belief, plan: Plan): Step {
  const { machine } = belief;
  const after = predict(belief, plan.settings);
  const changes = plan.settings.some((setting, a) => setting !== machine.description.adjusters[a].installed);
  if (changes) return 'change';
  const wide = after.some((prediction, g) => endMs(prediction) > belief.groups[g].toleranceMs + SLACK_MS);
  if (goodEnough(belief, after)) return wide ? 'not-resolvable' : 'good-enough';
  const late = after.some(({ meanMs }, g) => Math.abs(meanMs) > belief.groups[g].toleranceMs);
  return late ? 'out-of-reach' : 'not-resolvable';
}

/** Nobody records longer takes: at half a minute a turn, a working day. */
const MOST_TURNS = 1000;

/**
 * Turns of the barrel that a take must hold so that every interval lies within tolerance, where more turns alone can do
 * that: an interval narrows with the square root of the turns. null where they cannot, or nothing says how many
 * turns the take held.
 */
export function turnsToResolve(belief: Belief, plan: Plan, report: EarlierReport): number | null {
  const turns = turnsHeard(report);
  if (Number.isNaN(turns)) return null;
  const needed = predict(belief, plan.settings).map(({ meanMs }, g) => {
    const { ci95Ms, toleranceMs } = belief.groups[g];
    const room = toleranceMs - Math.abs(meanMs);
    return room <= 0 ? Infinity : turns * (ci95Ms / room) ** 2;
  });
  const most = Math.ceil(Math.max(...needed) - 1e-3);
  return most <= MOST_TURNS && most > turns ? most : null;
}

/**
 * Groups whose pins scatter (standard deviation) by more than their channel's tolerance, and by more than what will be
 * left of the group's mean: what moves all pins of a group alike can mend no more there.
 *
 * @param belief the newest take's, `report` that take
 */
export function scattered(
  belief: Belief,
  plan: Plan,
  report: EarlierReport,
): NonNullable<Advice['scattered']> {
  const { channels, barrel } = belief.machine.description;
  const after = predict(belief, plan.settings);
  return belief.groups.flatMap(({ channel, sector, toleranceMs }, g) => {
    const place = { channel: channels[channel].id, sector: barrel.sectors[sector].id };
    const pinSdMs = report.groups.find(
      (group) => group.channel === place.channel && group.sector === place.sector,
    )?.pinSdMs;
    const enough = Math.max(toleranceMs, Math.abs(after[g].meanMs));
    return typeof pinSdMs === 'number' && pinSdMs > enough ? [{ ...place, pinSdMs, toleranceMs }] : [];
  });
}
