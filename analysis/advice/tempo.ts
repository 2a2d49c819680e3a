/**
 * What changes with tempo. A delay that is constant in time (fall, flight) stays as it is; a shift that is constant in
 * angle grows with the time of a turn. Lateness of a group at a turn of T s: angle · T + delay, the delay one for each
 * channel and, like all lateness, against the reference's. Takes at two tempi tell the two apart; with one tempo, free
 * fall from the drop heights that the machine names says what it can, and the interval says how little that is.
 */
import { NORMAL_95 } from '../numbers/normal.ts';
import { settingsOf } from './rounds.ts';
import { sharesOf } from './shares.ts';
import { inverse, Matrix } from 'ml-matrix';
import { fallMs, shareOfReference, shiftMs } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { meantMs } from '../machine/target.ts';
import type { EarlierReport } from '../results/results.ts';
import { measuredOf } from '../strokes/estimate.ts';
import { installedOf, type Belief } from './belief.ts';

export interface ChannelTempo {
  readonly channel: number;
  /** Against the reference's delay, ms. */
  readonly delayMs: number;
  readonly delayCi95Ms: number;
  /** `takes`: two tempi or more told it; `physics`: drop heights and a wide guess. */
  readonly from: 'takes' | 'physics';
  /** Lateness with the settings now installed. */
  readonly at: (secondsPerTurn: number) => readonly TempoGroup[];
}

export interface TempoGroup {
  readonly channel: number;
  readonly sector: number;
  readonly meanMs: number;
  readonly ci95Ms: number;
}

/**
 * A striker whose drop height is not known falls or flies for 100 ± 50 ms: heights from 12 to 200 mm by free fall.
 * Common practice, no source; it is meant to be wide.
 */
const USUAL_DELAY_MS = 100;
const USUAL_DELAY_SD_MS = 50;
/** Free fall leaves out friction and rebound: so much of it, as a standard deviation. No source. */
const FALL_SD = 0.1;
/** Nothing is known better than this, ms; and a factor no better than this. Both only keep the equations soluble. */
const LEAST_SD_MS = 1e-3;
const LEAST_FACTOR_SD = 1e-4;
/** The reference is one of its own: against itself it has no delay. */
const NONE_SD_MS = 1e-3;

/** One observation of a group in a take, put to the settings now installed. */
interface Observation {
  readonly take: number;
  readonly secondsPerTurn: number;
  readonly sector: number;
  readonly meanMs: number;
  /** What is new at every observation, ms². */
  readonly variance: number;
  /** What all sectors of the channel share in one take: its onset, the reference and the rotation, ms². */
  readonly shared: number;
  /** Of every adjuster that stood otherwise, or has been apart since. */
  readonly moved: readonly {
    readonly adjuster: number;
    readonly share: number;
    /** Of the adjuster's own shift by geometry, ms; what its factor is off counts so often. */
    readonly shiftMs: number;
    /** Number of the fitting at which it stood; the one now on the machine is 0. */
    readonly fitting: number;
  }[];
}

/** Every channel that the takes measured. @param belief what adjusters do, from the same takes */
export function channelTempi(
  machine: Machine,
  reports: readonly EarlierReport[],
  belief: Belief,
): ChannelTempo[] {
  const fittings = fittingsOf(machine, reports);
  return machine.description.channels.flatMap((_, channel) => {
    const seen = observations(machine, reports, belief, channel, fittings);
    return seen.length === 0 ? [] : [fitChannel(machine, channel, seen, belief)];
  });
}

/** By take and adjuster: which fitting it was, counted back from the one now on the machine. */
function fittingsOf(machine: Machine, reports: readonly EarlierReport[]): number[][] {
  let later = installedOf(machine);
  let fitting = later.map(() => 0);
  return reports
    .toReversed()
    .map((report) => {
      const settings = settingsOf(machine, report);
      fitting = fitting.map((number, a) => (settings[a] === later[a] ? number : number + 1));
      later = settings;
      return fitting;
    })
    .reverse();
}

function observations(
  machine: Machine,
  reports: readonly EarlierReport[],
  belief: Belief,
  channel: number,
  fittings: readonly (readonly number[])[],
): Observation[] {
  const { description } = machine;
  return reports.flatMap((report, take) => {
    const { secondsPerTurn } = report.tempo;
    if (secondsPerTurn === null) return [];
    const settings = settingsOf(machine, report);
    return report.groups.flatMap((group) => {
      const sector = description.barrel.sectors.findIndex(({ id }) => id === group.sector);
      const measured = measuredOf(group);
      const own = group.channel === description.channels[channel].id && group.doubt === undefined;
      if (!own || sector === -1 || measured === null) return [];
      const shares = sharesOf(machine, channel, sector);
      const moved = description.adjusters.flatMap((adjuster, a) => {
        const share = shares[a];
        const fitting = fittings[take][a];
        if (share === 0 || fitting === 0) return [];
        const shift = shiftMs(adjuster, settings[a], adjuster.installed, description, secondsPerTurn);
        return [{ adjuster: a, share, shiftMs: shift, fitting }];
      });
      const meanMs = moved.reduce(
        (sum, { adjuster, share, shiftMs: ms }) => sum + share * ms * belief.effects[adjuster].factor,
        // What is meant is the same at every tempo: it is taken off the machine's own lateness, not scaled with it.
        measured.meanMs + meantAgainstReference(machine, channel, sector),
      );
      const all = Math.max(measured.standardErrorMs ** 2, LEAST_SD_MS ** 2);
      const { onset = 0, rotation = 0, referencePins = 0 } = group.varianceMs2 ?? {};
      const shared = Math.min(all, onset + rotation + referencePins);
      const variance = Math.max(all - shared, LEAST_SD_MS ** 2);
      return [{ take, secondsPerTurn, sector, meanMs, variance, shared, moved }];
    });
  });
}

function meantAgainstReference(machine: Machine, channel: number, sector: number): number {
  return meantMs(machine, channel, sector) - meantMs(machine, machine.reference, null);
}

/**
 * Weighted least squares for the sectors' angles and the delay, the delay with its prior. What is unknown once is one
 * unknown, however many takes it is in: each adjuster's factor, each of its fittings, each take's own onset.
 */
function fitChannel(
  machine: Machine,
  channel: number,
  seen: readonly Observation[],
  belief: Belief,
): ChannelTempo {
  const sectors = [...new Set(seen.map(({ sector }) => sector))];
  const prior = priorDelay(machine, channel);
  const names = new Map<string, number>();
  const at = (name: string) => {
    if (!names.has(name)) names.set(name, names.size);
    return names.get(name)!;
  };
  sectors.forEach((sector) => at(`angle ${sector}`));
  const delayAt = at('delay');
  const factors = [...new Set(seen.flatMap(({ moved }) => moved.map(({ adjuster }) => adjuster)))];
  factors.forEach((a) => at(`factor ${a}`));
  const rows = seen.map(({ sector, secondsPerTurn, moved, take, shared }) => {
    const row = new Map<number, number>([
      [at(`angle ${sector}`), secondsPerTurn],
      [delayAt, 1],
    ]);
    const add = (name: string, amount: number) => row.set(at(name), (row.get(at(name)) ?? 0) + amount);
    for (const { adjuster, share, shiftMs: ms, fitting } of moved) {
      // The observation was put to today's setting by the believed factor: what that is off is in it.
      add(`factor ${adjuster}`, -share * ms);
      if (belief.effects[adjuster].refitMs > 0) {
        add(`fitting ${adjuster} ${fitting}`, share);
        add(`fitting ${adjuster} 0`, -share);
      }
    }
    if (shared > 0) add(`take ${take}`, Math.sqrt(shared));
    return row;
  });
  const count = names.size;
  const information = Matrix.zeros(count, count);
  const right = Matrix.zeros(count, 1);
  seen.forEach(({ meanMs, variance }, k) => {
    for (const [i, x] of rows[k]) {
      right.set(i, 0, right.get(i, 0) + (x * meanMs) / variance);
      for (const [j, y] of rows[k]) information.set(i, j, information.get(i, j) + (x * y) / variance);
    }
  });
  const addPrior = (i: number, j: number, precision: number) =>
    information.set(i, j, information.get(i, j) + precision);
  addPrior(delayAt, delayAt, 1 / prior.sdMs ** 2);
  right.set(delayAt, 0, right.get(delayAt, 0) + prior.meanMs / prior.sdMs ** 2);
  if (factors.length > 0) {
    const known = new Matrix(
      factors.map((a) =>
        factors.map((b) => belief.factorCovariance[a][b] + (a === b ? LEAST_FACTOR_SD ** 2 : 0)),
      ),
    );
    const precision = inverse(known);
    factors.forEach((a, i) =>
      factors.forEach((b, j) => addPrior(at(`factor ${a}`), at(`factor ${b}`), precision.get(i, j))),
    );
  }
  for (const [name, i] of names) {
    if (name.startsWith('take')) addPrior(i, i, 1);
    if (name.startsWith('fitting'))
      addPrior(i, i, 1 / belief.effects[Number(name.split(' ')[1])].refitMs ** 2);
  }
  const covariance = inverse(information);
  const solution = covariance.mmul(right).to1DArray();
  const delaySd = Math.sqrt(covariance.get(delayAt, delayAt));
  return {
    channel,
    delayMs: solution[delayAt],
    delayCi95Ms: NORMAL_95 * delaySd,
    from: delaySd < prior.sdMs / 2 ? 'takes' : 'physics',
    at: (secondsPerTurn) =>
      sectors.map((sector) => {
        const angleAt = at(`angle ${sector}`);
        const ownMs = secondsPerTurn * solution[angleAt] + solution[delayAt];
        const meanMs = ownMs - meantAgainstReference(machine, channel, sector);
        const variance =
          secondsPerTurn ** 2 * covariance.get(angleAt, angleAt) +
          2 * secondsPerTurn * covariance.get(angleAt, delayAt) +
          covariance.get(delayAt, delayAt);
        return { channel, sector, meanMs, ci95Ms: NORMAL_95 * Math.sqrt(Math.max(0, variance)) };
      }),
  };
}

function priorDelay(machine: Machine, channel: number): { meanMs: number; sdMs: number } {
  const { reference } = machine;
  if (channel === reference) return { meanMs: 0, sdMs: NONE_SD_MS };
  const own = ownDelay(machine, channel);
  const ofReference = ownDelay(machine, reference);
  return { meanMs: own.meanMs - ofReference.meanMs, sdMs: Math.hypot(own.sdMs, ofReference.sdMs) };
}

function ownDelay(machine: Machine, channel: number): { meanMs: number; sdMs: number } {
  const { adjusters, channels } = machine.description;
  const { id } = channels[channel];
  for (const { perUnit, shifts, installed } of adjusters) {
    if (!('dropMm' in perUnit) || shifts.channels?.includes(id) !== true) continue;
    const meanMs = fallMs(perUnit.dropHeightMm + installed * perUnit.dropMm);
    return { meanMs, sdMs: FALL_SD * meanMs };
  }
  return { meanMs: USUAL_DELAY_MS, sdMs: USUAL_DELAY_SD_MS };
}

/** Adjusters that move the reference and nothing else: at another tempo they make up for what all channels share. */
export function ringsOf(machine: Machine): number[] {
  const id = machine.description.channels[machine.reference].id;
  return machine.description.adjusters.flatMap(({ shifts, locked }, a, all) =>
    locked !== true &&
    shifts.channels?.length === 1 &&
    shifts.channels[0] === id &&
    shareOfReference(machine, all[a]) === 1
      ? [a]
      : [],
  );
}
