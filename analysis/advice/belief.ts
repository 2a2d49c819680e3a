/**
 * advice/: from what was measured to whole-unit settings to change.
 *
 * A belief is what is held to be true of a machine after a take: how late each group is, what each adjuster does to
 * it, and how sure both are. Everything later asks only the belief, so effects from geometry and effects learned from
 * takes are used alike. All lateness in ms at the newest take's tempo; positive is late.
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { shiftMs, type Coupling } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { EarlierReport } from '../results/results.ts';
import type { Round } from './rounds.ts';
import type { Upheld } from './supposition.ts';

/** A channel in a sector that the newest take measured. */
export interface BelievedGroup {
  /** Indices into the machine's channels and sectors. */
  readonly channel: number;
  readonly sector: number;
  /** Believed lateness with the settings of the newest take. */
  readonly meanMs: number;
  /** Half-width of its 95 % interval. */
  readonly ci95Ms: number;
  /** What the newest take alone says. */
  readonly measuredMs: number;
  readonly measuredCi95Ms: number;
  readonly toleranceMs: number;
  /** Which of several tunes, and which of several tempi it is of, where they are planned for together. */
  readonly tune?: string;
  readonly bpm?: number;
  /** Its interval may reach so far, ms, whatever its tolerance: it is no reason to change anything. */
  readonly allowedMs?: number;
  /** Whether no plan may take it out of its tolerance, or farther out. */
  readonly kept?: boolean;
  /** No plan may take its mean beyond ± this, ms, however sure it is of it. */
  readonly meanAtMostMs?: number;
}

/** Groups of another tune than the newest take's, at the tempo of its own newest take. */
export interface OtherTuneGroups extends Pick<Belief, 'groups' | 'share' | 'groupCovariance' | 'wanderMs'> {
  readonly tune: string;
  readonly take: string;
}

export interface Belief {
  readonly machine: Machine;
  readonly secondsPerTurn: number;
  /** The newest take's settings, by adjuster index. */
  readonly takeSettings: readonly number[];
  readonly groups: readonly BelievedGroup[];
  /**
   * One row a group, one number an adjuster: how much of the adjuster's own shift the group's lateness takes, once the
   * reference's mean shift is off. 0 where it does nothing to it.
   */
  readonly share: readonly Float64Array[];
  readonly effects: readonly BelievedEffect[];
  /** Covariance of the effects' factors, adjuster × adjuster. */
  readonly factorCovariance: readonly Float64Array[];
  /** Covariance of each group's lateness (ms) with each adjuster's factor, group × adjuster. */
  readonly groupCovariance: readonly Float64Array[];
  /** The takes it rests on, oldest first. */
  readonly rounds: readonly Round[];
  /** What happened beside what is noted, as the takes tell. */
  readonly upheld: readonly Upheld[];
  /** Indices of adjusters that are left alone: something about their record or description is not settled. */
  readonly held: ReadonlySet<number>;
  /** By group: standard deviation by which its lateness moves by itself from take to take, ms; 0 where one take tells nothing of it. */
  readonly wanderMs: readonly number[];
  /** Of a machine with several tunes; adjusters are common to all. */
  readonly others: readonly OtherTuneGroups[];
  /** Couplings of the machine file (`alsoShifts`) as the takes tell their shares. */
  readonly couplings: readonly {
    readonly adjuster: number;
    readonly to: Coupling;
    readonly share: number;
    readonly sd: number;
  }[];
}

/** What an adjuster does, as a multiple of what geometry says. */
export interface BelievedEffect {
  readonly factor: number;
  readonly from: 'geometry' | 'takes';
  /** Standard deviation of where it comes to rest when it is changed, ms of its own shift. */
  readonly refitMs: number;
}

/** What a group's lateness would be, and the half-width of its 95 % interval. */
export interface Prediction {
  readonly meanMs: number;
  readonly ci95Ms: number;
}

/** The end of a predicted interval that lies farther from zero, as a size, ms; `weight` is how much of the interval counts. */
export function endMs({ meanMs, ci95Ms }: Prediction, weight = 1): number {
  return Math.abs(meanMs) + weight * ci95Ms;
}

/** Ms by which geometry says adjuster `a` shifts what it moves, from the newest take's setting to `setting`. */
export function geometricShiftMs(belief: Belief, a: number, setting: number): number {
  const { machine, secondsPerTurn, takeSettings } = belief;
  const adjuster = machine.description.adjusters[a];
  return shiftMs(adjuster, takeSettings[a], setting, machine.description, secondsPerTurn);
}

/** The settings as the machine stands. */
export function installedOf({ description }: Machine): number[] {
  return description.adjusters.map(({ installed }) => installed);
}

/** Largest mean lateness with these settings, ms. */
export function worstMeanMs(belief: Belief, settings: readonly number[]): number {
  return Math.max(...predict(belief, settings).map(({ meanMs }) => Math.abs(meanMs)));
}

/** @param settings by adjuster index; @returns one prediction a group, in the belief's order */
export function predict(belief: Belief, settings: readonly number[]): Prediction[] {
  const shifts = settings.map((setting, a) => geometricShiftMs(belief, a, setting));
  const changed = settings.map(
    (setting, a) => changedSinceTake(belief, a) || setting !== belief.takeSettings[a],
  );
  return belief.groups.map((group, g) => {
    const share = belief.share[g];
    const move = shifts.map((shift, a) => share[a] * shift);
    const meanMs = move.reduce((sum, ms, a) => sum + ms * belief.effects[a].factor, group.meanMs);
    let variance = (group.ci95Ms / NORMAL_95) ** 2;
    move.forEach((ms, a) => {
      if (changed[a]) variance += (share[a] * belief.effects[a].refitMs) ** 2;
      if (ms === 0) return;
      variance += 2 * ms * belief.groupCovariance[g][a];
      for (let b = 0; b < move.length; b++) variance += ms * belief.factorCovariance[a][b] * move[b];
    });
    return { meanMs, ci95Ms: NORMAL_95 * Math.sqrt(Math.max(0, variance)) };
  });
}

/** The belief as if these groups, by index, were not there. */
export function withoutGroups(belief: Belief, aside: ReadonlySet<number>): Belief {
  const kept = <T>(of: readonly T[]) => of.filter((_, g) => !aside.has(g));
  return {
    ...belief,
    groups: kept(belief.groups),
    share: kept(belief.share),
    groupCovariance: kept(belief.groupCovariance),
    wanderMs: kept(belief.wanderMs),
  };
}

/** Whether the adjuster on the machine now stands elsewhere than in the newest take: it has been apart since. */
export function changedSinceTake({ machine, takeSettings }: Belief, a: number): boolean {
  return machine.description.adjusters[a].installed !== takeSettings[a];
}

/** The groups of a report that have a mean and an interval, and a channel and sector that the machine still has. */
export function measuredGroups(machine: Machine, report: EarlierReport): BelievedGroup[] {
  const { channels, barrel } = machine.description;
  return report.groups.flatMap((group) => {
    const channel = channels.findIndex(({ id }) => id === group.channel);
    const sector = barrel.sectors.findIndex(({ id }) => id === group.sector);
    if (channel === -1 || sector === -1 || group.doubt !== undefined) return [];
    if (group.meanMs === null || group.ci95Ms === null) return [];
    const { toleranceMs } = channels[channel];
    const { meanMs, ci95Ms } = group;
    return [{ channel, sector, meanMs, ci95Ms, measuredMs: meanMs, measuredCi95Ms: ci95Ms, toleranceMs }];
  });
}
