/** History: one line a take and channel over the months, and which takes are out of what is usual for the channel. */
import { channelTempi } from '../advice/tempo.ts';
import { beliefFromTakes } from '../advice/learn.ts';
import { latenessChangeMs, moves, sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { withMinus } from '../minus.ts';
import { controlChart, type ControlChart } from '../numbers/control-chart.ts';
import type { EarlierReport, SectionPlot } from '../results.ts';
import { figures, signed, withInterval } from './reading.ts';
import { fit, wrapped } from './terminal-text.ts';

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
}

export interface ChannelHistory {
  readonly channel: string;
  readonly lines: readonly HistoryLine[];
  /** Of `wearMs`; null of too few takes. */
  readonly chart: ControlChart | null;
}

/** @param reports oldest first */
export function historyOf(machine: Machine, reports: readonly EarlierReport[]): ChannelHistory[] {
  const taken = whatIsTakenOff(machine, reports);
  return machine.description.channels.map(({ id }, channel) => {
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
      lines: rows.map((row, i) => ({ ...row, signal: signalOf.get(i) ?? null })),
      chart,
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

/**
 * A channel's control chart: lateness without what settings did, each with its interval, the usual and its limits, and the takes
 * that are out of it.
 */
export function historyPlot({ lines, chart }: ChannelHistory): SectionPlot {
  const known = lines.flatMap((line, i) =>
    line.wearMs === null ? [] : [{ ...line, ms: line.wearMs, take: i + 1 }],
  );
  const usual = known.filter(({ signal }) => signal === null);
  const signals = known.filter(({ signal }) => signal !== null);
  const series = (name: string, own: typeof known) => ({
    name,
    points: own.map(({ take, ms }): [number, number] => [take, ms]),
    ci95: own.map(({ ci95Ms }) => ci95Ms),
  });
  return {
    xLabel: 'takes, the oldest first',
    yLabel: 'ms late, changes of settings taken off',
    ...(chart === null
      ? {}
      : {
          rules: [
            { axis: 'y' as const, at: chart.middle, name: 'usual' },
            { axis: 'y' as const, at: chart.upper, name: 'upper limit' },
            { axis: 'y' as const, at: chart.lower, name: 'lower limit' },
          ],
        }),
    series: [series('as usual', usual), ...(signals.length > 0 ? [series('out of the usual', signals)] : [])],
  };
}

/** A channel's history in a sentence. */
export function historyWords({ lines, chart }: ChannelHistory): string {
  if (chart === null) return 'Too few takes for limits.';
  const signals = lines.flatMap(({ take, signal }) =>
    signal === null ? [] : [`${take} ${signalWords[signal]}`],
  );
  const usual = `Usual ${signed(chart.middle)} ms, limits ${signed(chart.lower)} to ${signed(chart.upper)} ms, settings’ changes taken off`;
  return signals.length === 0 ? `${usual}; no take is out of them.` : `${usual}. ${signals.join('; ')}.`;
}

export const signalWords = {
  beyond: 'out of its limits: look for what changed',
  run: 'eight in a row on one side: wear or season',
};

/** What a line of a take has no room for stands below it, under the take's name. */
const below = ' '.repeat(14);

/** As lines for a terminal. */
export function renderHistory(history: readonly ChannelHistory[]): string {
  return history
    .flatMap(({ channel, lines, chart }) => [
      wrapped(
        chart === null
          ? `${channel} (too few takes for limits)`
          : `${channel}: usual ${signed(chart.middle)} ms, limits ${signed(chart.lower)} to ${signed(chart.upper)} ms, settings’ changes taken off`,
      ),
      ...lines.flatMap(({ take, recorded, latenessMs, ci95Ms, repeatabilityMs, wearMs, changed, signal }) =>
        [
          [
            `  ${(recorded ?? '–').slice(0, 10).padEnd(10)}  ${fit(take, 24)}`,
            `${withInterval(latenessMs, ci95Ms).padStart(15)} ms`,
            `repeats ${figures(repeatabilityMs)}`,
            `without settings ${signed(wearMs)}`,
          ].join('  '),
          ...(changed.length === 0 ? [] : [`changed before it: ${changed.join(', ')}`]),
          ...(signal === null ? [] : [signalWords[signal]]),
        ].map((text, i) => (i === 0 ? text : below + wrapped(text, below))),
      ),
      '',
    ])
    .join('\n')
    .trimEnd();
}
