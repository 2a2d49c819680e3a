/**
 * What changes with tempo. A delay that is constant in time (fall, flight) stays as it is; a shift that is constant in
 * angle grows with the time of a turn. Lateness of a group at a turn of T s: angle · T + delay, the delay one for each
 * channel and, like all lateness, against the reference's. Takes at two tempi tell the two apart; with one tempo, free
 * fall from the drop heights that the machine names says what it can, and the interval says how little that is.
 */
import { inverse, Matrix } from 'ml-matrix';
import { fallMs, shareOfReference, shiftMs } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { EarlierReport } from '../results.ts';
import { measuredGroups, NORMAL_95, settingsOf, sharesOf, type Belief } from './belief.ts';

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
/** The reference is one of its own: against itself it has no delay. */
const NONE_SD_MS = 1e-3;

/** One observation of a group in a take, put to the settings now installed. */
interface Observation {
  readonly secondsPerTurn: number;
  readonly sector: number;
  readonly meanMs: number;
  readonly sdMs: number;
}

/** Every channel that the takes measured. @param belief what adjusters do, from the same takes */
export function channelTempi(
  machine: Machine,
  reports: readonly EarlierReport[],
  belief: Belief,
): ChannelTempo[] {
  return machine.description.channels.flatMap((_, channel) => {
    const seen = observations(machine, reports, belief, channel);
    return seen.length === 0 ? [] : [fitChannel(machine, channel, seen)];
  });
}

function observations(
  machine: Machine,
  reports: readonly EarlierReport[],
  belief: Belief,
  channel: number,
): Observation[] {
  return reports.flatMap((report) => {
    const { secondsPerTurn } = report.tempo;
    if (secondsPerTurn === null) return [];
    const settings = settingsOf(machine, report);
    return measuredGroups(machine, report)
      .filter((group) => group.channel === channel)
      .map(({ sector, measuredMs, ci95Ms }) => {
        const share = sharesOf(machine, channel, sector);
        let meanMs = measuredMs;
        let variance = (ci95Ms / NORMAL_95) ** 2;
        machine.description.adjusters.forEach((adjuster, a) => {
          if (share[a] === 0 || settings[a] === adjuster.installed) return;
          const { description } = machine;
          const shift = shiftMs(adjuster, settings[a], adjuster.installed, description, secondsPerTurn);
          meanMs += share[a] * shift * belief.effects[a].factor;
          variance += (share[a] * shift) ** 2 * belief.factorCovariance[a][a];
          variance += (share[a] * belief.effects[a].refitMs) ** 2;
        });
        return { secondsPerTurn, sector, meanMs, sdMs: Math.max(Math.sqrt(variance), 1e-3) };
      });
  });
}

/** Weighted least squares for the sectors' angles and the delay, the delay with its prior. */
function fitChannel(machine: Machine, channel: number, seen: readonly Observation[]): ChannelTempo {
  const sectors = [...new Set(seen.map(({ sector }) => sector))];
  const prior = priorDelay(machine, channel);
  const count = sectors.length + 1;
  const delayAt = sectors.length;
  const information = Matrix.zeros(count, count);
  const right = Matrix.zeros(count, 1);
  const add = (row: readonly number[], value: number, weight: number) =>
    row.forEach((x, i) => {
      right.set(i, 0, right.get(i, 0) + weight * x * value);
      row.forEach((y, j) => information.set(i, j, information.get(i, j) + weight * x * y));
    });
  const rowFor = (sector: number, secondsPerTurn: number) =>
    [...sectors, -1].map((other) => (other === -1 ? 1 : other === sector ? secondsPerTurn : 0));
  add([...sectors.map(() => 0), 1], prior.meanMs, 1 / prior.sdMs ** 2);
  for (const { sector, secondsPerTurn, meanMs, sdMs } of seen)
    add(rowFor(sector, secondsPerTurn), meanMs, 1 / sdMs ** 2);
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
        const row = rowFor(sector, secondsPerTurn);
        const meanMs = row.reduce((sum, x, i) => sum + x * solution[i], 0);
        const variance = row.reduce(
          (sum, x, i) => sum + x * row.reduce((inner, y, j) => inner + y * covariance.get(i, j), 0),
          0,
        );
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
