/** What was said of a machine, held against how it truly is. */
import type { Report } from '../../../analysis/results/results.ts';
import { truthOf, type TrueGroup } from './physics.ts';
import type { Situation } from './situation.ts';
import type { World } from './world.ts';

/** Where a machine truly stands: worst |mean| as a multiple of tolerance, and how many groups lie within. */
export interface Standing {
  readonly worst: number;
  readonly within: number;
  readonly truth: readonly TrueGroup[];
}

/** A group counts as lost only where it is so much beyond its tolerance: less is the chance of a refit. */
const lostFrom = 1.05;
/** "Every group lies within tolerance" is false where one is so much beyond: less would not be heard. */
const falseFrom = 1.25;

/** @param margin multiple of tolerance up to which a group counts as within */
export function standing(world: World, situation: Situation, margin = 1): Standing {
  const truth = truthOf(world);
  const counted = truth.filter(({ striker, sector }) => !situation.outOfReach?.(world, striker, sector));
  const shares = counted.map(({ ms, toleranceMs }) => Math.abs(ms) / toleranceMs);
  return { worst: Math.max(0, ...shares), within: shares.filter((share) => share <= margin).length, truth };
}

/** Whether a change made the worst group, or the number of groups in tolerance, worse. */
export function madeWorse(before: Standing, afterwards: World, situation: Situation): boolean {
  const after = standing(afterwards, situation, lostFrom);
  return after.worst > Math.max(lostFrom, lostFrom * before.worst) || after.within < before.within;
}

const letter = (sector: number) => String.fromCharCode(65 + sector);

/** "Nothing to change, all within tolerance", where a group is plainly out and is not named as unmeasured. */
export function falselyGood({ advice, groups }: Report, { truth }: Standing, world: World): boolean {
  if (advice.step !== 'good-enough') return false;
  // A sentence may begin with a channel's id.
  const summary = advice.summary.toLowerCase();
  return truth.some(({ striker, sector, ms, toleranceMs }) => {
    const { id } = world.strikers[striker];
    const said = groups.find((group) => group.channel === id && group.sector === letter(sector));
    const known = said !== undefined && said.meanMs !== null && said.doubt === undefined;
    return Math.abs(ms) > falseFrom * toleranceMs && (known || !summary.includes(id));
  });
}

/** One flag and one error (measured less true) a group that was given an interval; `doubted` are those that the report itself says not to rely on. */
export function meansHeld({ groups }: Report, { truth }: Standing, world: World) {
  const held: boolean[] = [];
  const errorsMs: number[] = [];
  let doubted = 0;
  for (const { striker, sector, ms } of truth) {
    const { id } = world.strikers[striker];
    const said = groups.find((group) => group.channel === id && group.sector === letter(sector));
    if (said === undefined || said.meanMs === null || said.ci95Ms === null) continue;
    if (said.doubt !== undefined) {
      doubted++;
      continue;
    }
    held.push(Math.abs(said.meanMs - ms) <= said.ci95Ms);
    errorsMs.push(said.meanMs - ms);
  }
  return { held, errorsMs, doubted };
}

/** Predictions against the machine after all was done as told. */
export function predictionsHeld({ advice }: Report, afterwards: World): boolean[] {
  const truth = truthOf(afterwards);
  return advice.predicted.flatMap(({ channel, sector, afterMs, ci95Ms }) => {
    const group = truth.find(
      (one) => afterwards.strikers[one.striker].id === channel && letter(one.sector) === sector,
    );
    if (group === undefined || afterMs === null || ci95Ms === null) return [];
    return [Math.abs(afterMs - group.ms) <= ci95Ms];
  });
}
