/** Closes the loop: take, advice, change with its refit scatter, next take, as a person would who does as advised. */
import { advise } from '../../analysis/advice/advise.ts';
import { sectorOf } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { IntegerSolver } from '../../analysis/ports.ts';
import type { Advice, Report } from '../../analysis/results/results.ts';
import { play, type Played } from '../../samples/play.ts';
import type { Random } from '../../samples/random.ts';
import { refitted, type Faulty } from './machines.ts';
import { reportOf } from './measure.ts';

export interface LoopRound {
  readonly report: Report;
  readonly advice: Advice;
  /** Worst true |mean lateness| of any group while the take was recorded, ms. */
  readonly worstMs: number;
  /** Of the take's groups: whether the 95 % interval held the true mean of the pins as they sounded. */
  readonly meansHeld: readonly boolean[];
  /** Of the advice's predictions: whether they held the true means after the change was made. */
  readonly predictionsHeld: readonly boolean[];
  /** How many adjusters were changed after the take. */
  readonly changes: number;
}

export interface LoopResult {
  readonly rounds: readonly LoopRound[];
  /** Worst true |mean lateness| after the last change. */
  readonly worstMs: number;
}

/** From a played take to its report. `settings` as the person believes they are. */
export type Measure = (
  machine: Machine,
  played: Played,
  bpm: number,
  name: string,
  settings: Readonly<Record<string, number>>,
) => Report | Promise<Report>;

/**
 * @param refitTold whether the machine file says how exactly parts go back
 * @param measure   absent: hearing is taken as perfect
 */
export async function closeTheLoop(
  faulty: Faulty,
  rounds: number,
  solve: IntegerSolver,
  random: Random,
  refitTold: boolean,
  measure: Measure = reportOf,
): Promise<LoopResult> {
  const { adjusters } = faulty.machine.description;
  let installed: Record<string, number> = Object.fromEntries(adjusters.map((a) => [a.id, a.installed]));
  let standing = installed;
  const reports: Report[] = [];
  const played: LoopRound[] = [];
  for (let round = 0; round < rounds; round++) {
    const machine = withInstalled(faulty, installed, refitTold);
    const take = play(
      faulty.machine,
      faulty.truth,
      { bpm: faulty.bpm, turns: faulty.turns, startPosition: random.integer(100), settings: standing },
      random.split(`take ${round}`),
    );
    const report = await measure(machine, take, faulty.bpm, `take-${round}`, installed);
    reports.push(report);
    const advice = await advise(machine, reports, solve);
    const before = truePins(faulty, standing);
    const meansHeld = report.groups.flatMap(({ channel, sector, meanMs, ci95Ms }) =>
      sector === null || meanMs === null || ci95Ms === null
        ? []
        : [Math.abs(meanMs - trueMean(before, report, channel, sector)) <= ci95Ms],
    );
    const worstMs = worstOf(before);
    const changes = Object.fromEntries(
      advice.settings.map(({ adjuster, installed: from, proposed: to }) => [adjuster, { from, to }]),
    );
    standing = refitted(faulty, standing, changes, random.split(`refit ${round}`));
    installed = { ...installed, ...Object.fromEntries(advice.settings.map((s) => [s.adjuster, s.proposed])) };
    const after = truePins(faulty, standing);
    const predictionsHeld = advice.predicted.map(
      ({ channel, sector, afterMs, ci95Ms }) =>
        Math.abs(afterMs! - trueMean(after, report, channel, sector)) <= ci95Ms!,
    );
    played.push({ report, advice, worstMs, meansHeld, predictionsHeld, changes: advice.settings.length });
  }
  return { rounds: played, worstMs: worstOf(truePins(faulty, standing)) };
}

function withInstalled(
  { machine, refitMs }: Faulty,
  installed: Readonly<Record<string, number>>,
  refitTold: boolean,
): Machine {
  const adjusters = machine.description.adjusters.map((a) => ({ ...a, installed: installed[a.id] }));
  const description = { ...machine.description, adjusters, ...(refitTold ? { refitMs } : {}) };
  return { ...machine, description };
}

export interface TruePin {
  readonly channel: string;
  readonly step: number;
  readonly sector: string;
  readonly ms: number;
}

/** Every rightly placed pin's lateness, chance apart. */
export function truePins(
  { machine, truth, bpm }: Faulty,
  settings: Readonly<Record<string, number>>,
): TruePin[] {
  const { channels, barrel } = machine.description;
  const still = { ...truth, repeatabilityMs: {}, missingProbability: 0, wobble: undefined };
  const silent = { uniform: () => 1, normal: () => 0 } as unknown as Random;
  return play(machine, still, { bpm, turns: 1, settings }, silent).strikes.flatMap((strike) =>
    strike.pinned === 'right'
      ? [
          {
            channel: channels[strike.channel].id,
            step: strike.step,
            sector: barrel.sectors[sectorOf(machine.description, strike.step)].id,
            ms: strike.trueLatenessMs,
          },
        ]
      : [],
  );
}

/** Of the pins that a take heard, each weighing as often as it sounded. */
function trueMean(pins: readonly TruePin[], report: Report, channel: string, sector: string): number {
  let sum = 0;
  let strokes = 0;
  for (const pin of pins) {
    if (pin.channel !== channel || pin.sector !== sector) continue;
    const count = report.pins.find((p) => p.channel === channel && p.step === pin.step)?.count ?? 0;
    sum += count * pin.ms;
    strokes += count;
  }
  return sum / strokes;
}

/** Largest |mean| of any group, each pin of it weighing once. */
export function worstOf(pins: readonly TruePin[]): number {
  const groups = new Map<string, { sum: number; count: number }>();
  for (const { channel, sector, ms } of pins) {
    const key = `${channel} ${sector}`;
    const group = groups.get(key) ?? { sum: 0, count: 0 };
    groups.set(key, { sum: group.sum + ms, count: group.count + 1 });
  }
  return Math.max(...[...groups.values()].map(({ sum, count }) => Math.abs(sum / count)));
}
