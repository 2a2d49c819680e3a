/** The machine at another tempo: the motor's set-point, each channel's lateness, and the ring that makes up for it best. */
import { sharesOf } from './shares.ts';
import { secondsPerTurnAt, shiftMs } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import { asOfNow } from './meant.ts';
import { mean } from '../numbers/statistics.ts';
import { InputProblem } from '../input/problem.ts';
import type { EarlierReport } from '../results/results.ts';
import { type Belief } from './belief.ts';
import { beliefFromTakes } from './learn.ts';
import { setpointFor, type Setpoint } from './setpoint.ts';
import { channelTempi, ringsOf, type ChannelTempo, type TempoGroup } from './tempo.ts';
import { ofSameTune } from './tunes.ts';

export interface DriveTable {
  readonly rows: readonly DriveRow[];
  /** Per channel that was measured: what is constant in time, and what told it. */
  readonly delays: readonly {
    readonly channel: string;
    readonly delayMs: number;
    readonly ci95Ms: number;
    readonly from: 'takes' | 'physics';
  }[];
}

export interface DriveRow {
  readonly bpm: number;
  readonly secondsPerTurn: number;
  readonly setpoint: Setpoint;
  /** Mean lateness with the settings now installed, ms; null without a measured take. */
  readonly channels: readonly {
    readonly channel: string;
    readonly latenessMs: number;
    readonly ci95Ms: number;
    /** With the ring as proposed; what is left for the channel's own adjusters. */
    readonly withRingMs: number;
  }[];
  /** null where no adjuster moves the reference alone. */
  readonly ring: {
    readonly adjuster: string;
    readonly unit: string;
    readonly installed: number;
    readonly proposed: number;
  } | null;
  /** Largest |mean lateness| of all groups, ms; null where nothing was measured. */
  readonly worstMs: number | null;
  readonly worstWithRingMs: number | null;
}

/**
 * @param reports of the machine's takes, oldest first; may be empty, then only set-points are told
 * @param tempi   beats a minute, each > 0; one row each
 * @throws InputProblem where the machine file does not describe the drive, or a tempo is not positive
 */
export function driveTable(
  given: Machine,
  reports: readonly EarlierReport[],
  tempi: readonly number[],
): DriveTable {
  const measured = reports
    .filter(({ tempo }) => tempo.secondsPerTurn !== null)
    .map((report) => asOfNow(report, given));
  const tune = measured.at(-1)?.tune;
  const machine = ofTune(given, tune);
  const belief = measured.length > 0 ? beliefFromTakes(machine, measured) : null;
  const channels = belief === null ? [] : channelTempi(machine, ofSameTune(measured, tune), belief);
  const name = (channel: number) => machine.description.channels[channel].id;
  return {
    rows: tempi.map((bpm) => rowAt(machine, reports, belief, channels, bpm)),
    delays: channels.map(({ channel, delayMs, delayCi95Ms, from }) => ({
      channel: name(channel),
      delayMs,
      ci95Ms: delayCi95Ms,
      from,
    })),
  };
}

function rowAt(
  machine: Machine,
  reports: readonly EarlierReport[],
  belief: Belief | null,
  channels: readonly ChannelTempo[],
  bpm: number,
): DriveRow {
  if (!(bpm > 0) || !Number.isFinite(bpm))
    throw new InputProblem('', '--tempo', `${bpm} is no tempo`, 'give beats a minute, more than 0');
  const secondsPerTurn = secondsPerTurnAt(bpm, machine.description);
  const setpoint = setpointFor(machine, bpm, reports);
  const groups = channels.map(({ at }) => at(secondsPerTurn));
  const ring = belief === null ? null : bestRing(machine, belief, groups.flat(), secondsPerTurn);
  const after = groups.map((of) => of.map((group) => group.meanMs + (ring?.changeOf(group) ?? 0)));
  return {
    bpm,
    secondsPerTurn,
    setpoint,
    channels: channels.map(({ channel }, i) => ({
      channel: machine.description.channels[channel].id,
      latenessMs: mean(groups[i].map(({ meanMs }) => meanMs)),
      // The delay is shared by a channel's sectors, so their intervals do not average out.
      ci95Ms: mean(groups[i].map(({ ci95Ms }) => ci95Ms)),
      withRingMs: mean(after[i]),
    })),
    ring: ring?.proposal ?? null,
    worstMs: worst(groups.flat().map(({ meanMs }) => meanMs)),
    worstWithRingMs: worst(after.flat()),
  };
}

/** The adjuster of the reference alone, at the setting that leaves the least worst lateness as a share of tolerance. */
function bestRing(machine: Machine, belief: Belief, groups: readonly TempoGroup[], secondsPerTurn: number) {
  const { adjusters, channels } = machine.description;
  const options = ringsOf(machine).flatMap((a) => {
    const { installed, min, max } = adjusters[a];
    const shares = new Map(groups.map((group) => [group, sharesOf(machine, group.channel, group.sector)[a]]));
    const settings = Array.from({ length: max - min + 1 }, (_, i) => min + i);
    return [installed, ...settings].map((proposed) => {
      const shift = shiftMs(adjusters[a], installed, proposed, machine.description, secondsPerTurn);
      const changeOf = (group: TempoGroup) => (shares.get(group) ?? 0) * shift * belief.effects[a].factor;
      const worstShare = Math.max(
        ...groups.map((group) => {
          const { toleranceMs } = channels[group.channel];
          return Math.abs(group.meanMs + changeOf(group)) / toleranceMs;
        }),
      );
      const { id, unit } = adjusters[a];
      return { worstShare, changeOf, proposal: { adjuster: id, unit, installed, proposed } };
    });
  });
  if (options.length === 0) return null;
  return options.reduce((best, option) => (option.worstShare < best.worstShare - 1e-9 ? option : best));
}

function worst(values: readonly number[]): number | null {
  return values.length === 0 ? null : Math.max(...values.map(Math.abs));
}
