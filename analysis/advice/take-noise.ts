/** How exactly a take of so many turns would measure a group, from how exactly the newest one did. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { fQuantile, studentTQuantile } from '../numbers/inference.ts';
import type { EarlierReport } from '../results/results.ts';

/** Variances of one group's mean in the newest take, ms². */
export interface TakeNoise {
  /** Turns that the take held. */
  readonly turns: number;
  /** Becomes less with more turns: chance from turn to turn, the rotation's and the hearing's share. */
  readonly byTurnsMs2: number;
  /** Made anew by each take, however long: where the sound is taken to begin. */
  readonly byTakeMs2: number;
  /** The same in all takes: the reference's own pins. */
  readonly standingMs2: number;
  readonly degreesOfFreedom: number;
  /** Of the group, in each turn. */
  readonly strokesPerTurn: number;
}

/** Of such a share of takes it is promised that their intervals come out no wider than foretold. */
export const PROMISED_SHARE = 0.9;

/** Turns that a take was heard for, by the pin heard most often; NaN where no pin tells. */
export function turnsHeard({ pins }: EarlierReport): number {
  const turns = Math.max(0, ...pins.map(({ count }) => count));
  return turns === 0 ? NaN : turns;
}

/** null where the take does not say how far chance moves the group's strokes */
export function noiseOf(report: EarlierReport, channel: string, sector: string): TakeNoise | null {
  const group = report.groups.find((one) => one.channel === channel && one.sector === sector);
  const turns = turnsHeard(report);
  if (group === undefined || group.ci95Ms === null || !(turns >= 2)) return null;
  const { varianceMs2: parts, degreesOfFreedom, repeatabilityMs, count } = group;
  if (parts !== undefined)
    return {
      turns,
      byTurnsMs2: parts.chance + parts.hearing + parts.rotation + parts.resolution,
      byTakeMs2: parts.onset,
      standingMs2: parts.referencePins,
      degreesOfFreedom: degreesOfFreedom ?? Infinity,
      strokesPerTurn: count / turns,
    };
  // Reports from before the parts were kept: chance is what one pin's strokes show of it, the rest may be anything.
  if (repeatabilityMs === null || count < 2) return null;
  const all = (group.ci95Ms / NORMAL_95) ** 2;
  const chance = Math.min(all, repeatabilityMs ** 2 / count);
  return {
    turns,
    byTurnsMs2: chance,
    byTakeMs2: all - chance,
    standingMs2: 0,
    degreesOfFreedom: Math.max(1, count - count / turns),
    strokesPerTurn: count / turns,
  };
}

/**
 * Variance (ms²) that goes with the 95 % half-width t·s/√n of a take of `turns` turns, as a normal one's; `standingMs2` is
 * not in it.
 *
 * @param promised whether the half-width is to be kept by PROMISED_SHARE of takes: each finds a spread s of its own, and
 *   the squares of two spreads are in the ratio F (Kupper & Hafner 1989, Am. Stat. 43:101, from memory)
 */
export function noiseMs2(noise: TakeNoise, turns: number, promised: boolean): number {
  const degreesOfFreedom = (noise.degreesOfFreedom * (turns - 1)) / (noise.turns - 1);
  const t = studentTQuantile(0.975, degreesOfFreedom) / NORMAL_95;
  const chance = (noise.byTurnsMs2 * noise.turns) / turns;
  const larger = promised ? fQuantile(PROMISED_SHARE, degreesOfFreedom, noise.degreesOfFreedom) : 1;
  return t ** 2 * (chance * larger + noise.byTakeMs2);
}
