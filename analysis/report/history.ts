/** History: one line a take and channel over the months, and which takes are out of what is usual for the channel. */
import { channelTempi } from '../advice/tempo.ts';
import { ofSameTune } from '../advice/tunes.ts';
import { beliefFromTakes } from '../advice/learn.ts';
import { latenessChangeMs, moves, sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import { asOfNow } from '../advice/meant.ts';
import { withMinus } from '../words/minus.ts';
import { controlChart, type ControlChart } from '../numbers/control-chart.ts';
import type { EarlierReport } from '../results/results.ts';
import { levelCourses, levelWords } from './level-course.ts';

export interface HistoryLine {
  readonly take: string;
  readonly recorded: string | null;
  readonly latenessMs: number | null;
  readonly ci95Ms: number | null;
  readonly repeatabilityMs: number | null;
  /** Lateness less what all changes of settings since the first take and other tempi did, as the takes teach it: what is left is wear and season. */
  readonly wearMs: number | null;
  /** "joint-AB 3→5": since the take before. */
  readonly changed: readonly string[];
  readonly signal: 'beyond' | 'run' | null;
  /** dB re full scale; null where no sound tells. */
  readonly levelDb: number | null;
  /** Level against the others on its track, dB; null where it cannot be compared from take to take. */
  readonly againstOthersDb: number | null;
}

export interface ChannelHistory {
  readonly channel: string;
  readonly lines: readonly HistoryLine[];
  /** Of `wearMs`; null of too few takes. */
  readonly chart: ControlChart | null;
  /** A sentence; null where no take tells. */
  readonly loudness: string | null;
}

/**
 * @param asReported oldest first; of several tunes only takes of the last one's are lines: pins of another lie off by other
 *   amounts, which is no wear
 */
export function historyOf(given: Machine, asReported: readonly EarlierReport[]): ChannelHistory[] {
  const known = asReported.map((report) => asOfNow(report, given));
  const tune = known.at(-1)?.tune;
  const machine = ofTune(given, tune);
  const reports = ofSameTune(known, tune);
  const taken = whatIsTakenOff(machine, reports);
  const levels = levelCourses(machine, reports);
  const pinned = new Set(machine.pins.map(({ channel }) => channel));
  return machine.description.channels.flatMap(({ id }, channel) => {
    // Another tune's take tells of a channel that this one has no pin of.
    if (machine.tunes !== undefined && !pinned.has(channel)) return [];
    const rows = reports.map((report, i) => {
      const group = report.groups.find((one) => one.channel === id && one.sector === null);
      const latenessMs = group?.meanMs ?? null;
      const done =
        settingsMs(machine, channel, [reports[0], report], taken.factors) + taken.tempoMs(channel, report);
      return {
        take: report.take,
        recorded: report.recorded,
        latenessMs,
        ci95Ms: group?.ci95Ms ?? null,
        repeatabilityMs: group?.repeatabilityMs ?? null,
        wearMs: latenessMs === null || !Number.isFinite(done) ? null : latenessMs - done,
        changed: i === 0 ? [] : changes(machine, channel, reports[i - 1], report),
      };
    });
    const known = rows.flatMap(({ wearMs }, i) => (wearMs === null ? [] : [{ wearMs, i }]));
    const chart = controlChart(known.map(({ wearMs }) => wearMs));
    const signalOf = new Map(known.map(({ i }, k) => [i, chart?.signals[k] ?? null]));
    return {
      channel: id,
      lines: rows.map((row, i) => ({
        ...row,
        ...levels[channel].lines[i],
        signal: signalOf.get(i) ?? null,
      })),
      chart,
      loudness: levelWords(machine, levels[channel]),
    };
  });
}

/** What each adjuster does, as a multiple of geometry, and what tempo does to a channel, as all takes teach them. */
function whatIsTakenOff(machine: Machine, reports: readonly EarlierReport[]) {
  const told = reports.filter(({ tempo }) => tempo.secondsPerTurn !== null);
  const newest = told.at(-1)?.tempo.secondsPerTurn ?? null;
  if (newest === null) return { factors: machine.description.adjusters.map(() => 1), tempoMs: () => 0 };
  const belief = beliefFromTakes(machine, told);
  const isOther = (turnS: number) => Math.abs(turnS / newest - 1) > SAME_TEMPO;
  const several = told.some(({ tempo }) => isOther(tempo.secondsPerTurn ?? newest));
  const tempi = several ? channelTempi(machine, told, belief) : [];
  const meanAt = (channel: number, turnS: number) => {
    const groups = tempi.find((one) => one.channel === channel)?.at(turnS) ?? [];
    return groups.reduce((sum, { meanMs }) => sum + meanMs, 0) / groups.length;
  };
  return {
    factors: belief.effects.map(({ factor }) => factor),
    tempoMs: (channel: number, { tempo }: EarlierReport) => {
      const turnS = tempo.secondsPerTurn ?? newest;
      const ms = isOther(turnS) ? meanAt(channel, turnS) - meanAt(channel, newest) : 0;
      return Number.isFinite(ms) ? ms : 0;
    },
  };
}

/** Turns that differ by less are at one tempo. */
const SAME_TEMPO = 0.005;

/** What the settings' changes from one take to another did to a channel's mean, ms. */
function settingsMs(
  machine: Machine,
  channel: number,
  [first, now]: readonly [EarlierReport, EarlierReport],
  factors: readonly number[],
): number {
  const { adjusters, barrel } = machine.description;
  const turnS = now.tempo.secondsPerTurn;
  const pins = machine.pins.filter((pin) => pin.channel === channel);
  if (turnS === null || pins.length === 0) return NaN;
  return adjusters.reduce((total, adjuster, a) => {
    const from = first.settings[adjuster.id] as number | undefined;
    const to = now.settings[adjuster.id] as number | undefined;
    if (from === undefined || to === undefined || from === to) return total;
    const shift = latenessChangeMs(machine, adjuster, from, to, turnS);
    const ofPins = pins.map(
      ({ step }) => shift[channel * barrel.sectors.length + sectorOf(machine.description, step)],
    );
    return total + (factors[a] * ofPins.reduce((sum, ms) => sum + ms, 0)) / pins.length;
  }, 0);
}

/** Of adjusters that move the channel. */
function changes(machine: Machine, channel: number, before: EarlierReport, now: EarlierReport): string[] {
  return machine.description.adjusters.flatMap((adjuster) => {
    const { id } = adjuster;
    const was = before.settings[id] as number | undefined;
    const is = now.settings[id] as number | undefined;
    const changed = was !== undefined && is !== undefined && was !== is;
    return changed && moves(machine, adjuster, channel, null)
      ? [`${id} ${withMinus(was)}→${withMinus(is)}`]
      : [];
  });
}
