/**
 * The takes on record as observations: each pin's mean lateness in each take, with how much it weighs. Pins rather than
 * groups, because their errors cancel between takes only where the pins are the same: one that was missing, misplaced
 * or moved in a take must not pull its group's mean along.
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { grouped } from '../numbers/grouped.ts';
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { median } from '../numbers/statistics.ts';
import type { EarlierReport } from '../results/results.ts';

/** One take as learning sees it. */
export interface Round {
  readonly report: EarlierReport;
  readonly secondsPerTurn: number;
  /** Of a machine with several: its pins are no other tune's. */
  readonly tune?: string;
  readonly settings: readonly number[];
  /** Standard deviation of the reference's own mean, ms: every lateness of the take shares it. */
  readonly referenceSdMs: number;
  /** What a person says was worked on before this take, beside settings: channels, adjusters, "sector:ID". */
  readonly worked: readonly string[];
  readonly pins: readonly ObservedPin[];
}

export interface ObservedPin {
  /** The same text in every take for the same pin; a pin that was moved between takes counts as another. */
  readonly key: string;
  readonly channel: number;
  readonly sector: number;
  readonly meanMs: number;
  /** 1/ms²: one over the variance of its mean, the reference's share apart. */
  readonly weight: number;
  /** Its share of the strokes of its group in this take. */
  readonly share: number;
  /** Variance of its group's mean that is the same in every take, ms²: it cancels between takes, not in the lateness itself. */
  readonly standingMs2: number;
}

/** Of the half-width's variance so much at least is taken as the group's own, whatever the reference's noise. */
export const LEAST_OWN_SHARE = 0.25;

/** More are not learnt from: what is older speaks of a machine that has since been worn, mended and set anew. */
const MOST_ROUNDS = 60;

/** @param reports oldest first; takes without a tempo say nothing and are left out */
export function roundsOf(machine: Machine, reports: readonly EarlierReport[]): Round[] {
  const told = reports.filter(({ tempo }) => tempo.secondsPerTurn !== null).slice(-MOST_ROUNDS);
  const rounds = told.flatMap((report) => {
    const { secondsPerTurn } = report.tempo;
    if (secondsPerTurn === null) return [];
    const referenceSdMs = referenceSd(machine, report);
    const settings = settingsOf(machine, report);
    return [
      {
        report,
        secondsPerTurn,
        ...(report.tune === undefined ? {} : { tune: report.tune }),
        settings,
        referenceSdMs,
        worked: report.worked ?? [],
        pins: pinsOf(machine, report, referenceSdMs),
      },
    ];
  });
  return withMovedPins(rounds);
}

function referenceSd(machine: Machine, report: EarlierReport): number {
  const id = machine.description.channels[machine.reference].id;
  const whole = report.groups.find(({ channel, sector }) => channel === id && sector === null);
  if (whole === undefined || whole.count === 0) return 0;
  // Times that are rounded may hide the spread: the mean's standard error holds what rounding does.
  if (whole.repeatabilityMs === null) return whole.standardErrorMs ?? 0;
  return whole.repeatabilityMs / Math.sqrt(whole.count);
}

function pinsOf(machine: Machine, report: EarlierReport, referenceSdMs: number): ObservedPin[] {
  const { channels, barrel } = machine.description;
  const misplaced = new Set(
    report.findings.flatMap(({ kind, channel, step }) =>
      kind === 'misplaced-pin' ? [`${channel} ${step}`] : [],
    ),
  );
  return report.groups.flatMap((group) => {
    const channel = channels.findIndex(({ id }) => id === group.channel);
    const sector = barrel.sectors.findIndex(({ id }) => id === group.sector);
    if (channel === -1 || sector === -1 || group.doubt !== undefined) return [];
    if (group.meanMs === null || group.ci95Ms === null) return [];
    const shared = channel === machine.reference ? 0 : referenceSdMs;
    const all = (group.ci95Ms / NORMAL_95) ** 2;
    const standingMs2 = all * standingShare(group);
    const whole = all - standingMs2;
    const ofTune = report.tune === undefined ? '' : `${report.tune} `;
    const variance = Math.max(whole - shared ** 2, LEAST_OWN_SHARE * whole, 1e-8);
    const place = { channel, sector, standingMs2 };
    const pins = report.pins.filter(
      (pin) =>
        pin.channel === group.channel &&
        sectorOf(machine.description, pin.step) === sector &&
        pin.meanMs !== null &&
        pin.count > 0 &&
        !misplaced.has(`${pin.channel} ${pin.step}`),
    );
    const strokes = pins.reduce((sum, { count }) => sum + count, 0);
    if (strokes === 0)
      return [
        {
          ...place,
          key: `${ofTune}${group.channel} ${group.sector}`,
          meanMs: group.meanMs,
          weight: 1 / variance,
          share: 1,
        },
      ];
    // What the group's mean says beyond its pins' (a stroke set aside, say) is theirs alike.
    const ofPins = pins.reduce((sum, { count, meanMs }) => sum + (count * (meanMs ?? 0)) / strokes, 0);
    return pins.map(({ step, count, meanMs }) => ({
      ...place,
      key: `${ofTune}${group.channel} ${step}`,
      meanMs: (meanMs ?? 0) + group.meanMs! - ofPins,
      weight: count / strokes / variance,
      share: count / strokes,
    }));
  });
}

/** Of a group's variance what the reference's own pins make: the same in every take in which they are the same pins. */
function standingShare({ varianceMs2 }: EarlierReport['groups'][number]): number {
  if (varianceMs2 === undefined) return 0;
  const sum = Object.values(varianceMs2).reduce((total, part) => total + part, 0);
  return sum > 0 ? varianceMs2.referencePins / sum : 0;
}

/** A pin that moved against the others of its group by more than chance (this many standard deviations) and this, ms. */
const MOVED_SDS = 5;
const MOVED_MS = 0.5;
/** Fewer pins in common cannot tell which of them moved. */
const LEAST_IN_COMMON = 3;

/** From the take on in which a pin was found moved, it counts as another pin. */
function withMovedPins(rounds: readonly Round[]): Round[] {
  const generation = new Map<string, number>();
  const last = new Map<string, ObservedPin>();
  return rounds.map((round) => {
    const groups = grouped(round.pins, ({ channel, sector }) => `${channel} ${sector}`);
    for (const pins of groups.values()) {
      const common = pins.flatMap((pin) => {
        const before = last.get(pin.key);
        return before === undefined ? [] : [{ pin, before, change: pin.meanMs - before.meanMs }];
      });
      if (common.length < LEAST_IN_COMMON) continue;
      const middle = median(common.map(({ change }) => change));
      for (const { pin, before, change } of common) {
        const sd = Math.sqrt(1 / pin.weight + 1 / before.weight);
        if (Math.abs(change - middle) > Math.max(MOVED_MS, MOVED_SDS * sd))
          generation.set(pin.key, (generation.get(pin.key) ?? 0) + 1);
      }
    }
    for (const pin of round.pins) last.set(pin.key, pin);
    const named = round.pins.map((pin) => ({ ...pin, key: `${pin.key} ${generation.get(pin.key) ?? 0}` }));
    return { ...round, pins: named };
  });
}

/** Settings of a take by adjuster index; an adjuster that the report does not name stands as in the machine. */
export function settingsOf(machine: Machine, report: EarlierReport): number[] {
  return machine.description.adjusters.map(({ id, installed }) => report.settings[id] ?? installed);
}
