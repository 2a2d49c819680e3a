/**
 * What to change as openings of the machine, and in each the adjusters in the order of the work: the sheet prints it, and the
 * report page leads through it.
 */
import { moves } from '../../machine/effects.ts';
import type { Machine } from '../../machine/machine.ts';
import { piecesWords, type Pieces } from '../../advice/pieces.ts';
import type { Advice, EarlierReport } from '../../results/results.ts';
import { channelsOf, figures, plural } from '../reading.ts';
import { takeAllOut } from '../work-words.ts';

/** One adjuster to change. */
export interface Task {
  readonly adjuster: string;
  /** The adjuster's own name beside its id, where it has one. */
  readonly name: string | null;
  readonly unit: string;
  readonly from: number;
  readonly to: number;
  /** Bounds of its setting. */
  readonly min: number;
  readonly max: number;
  /** "add 2 shims"; of a machine with a drawer "put in 1 × 0.2 mm; take out 2 × 0.1 mm; the stack is then …". */
  readonly what: string;
  /** What it is for: the group it moves that gains most. */
  readonly why: string | null;
}

/** What is reached by one opening. */
export interface SheetOpening {
  /** What is opened; null: nothing has to be. */
  readonly access: string | null;
  readonly minutes: number | null;
  readonly tasks: readonly Task[];
}

/**
 * By the work's own order; advice without one gives its settings as they stand.
 *
 * @param report of the take that is acted on, the newest
 * @param advice for the machine as it stands now; its adjusters are the machine's
 */
export function openingsOf(machine: Machine, report: EarlierReport, advice: Advice): SheetOpening[] {
  const { work, settings } = advice;
  if (work === undefined || work.steps.length === 0) {
    const tasks = settings.map(({ adjuster, installed, proposed }) =>
      taskOf(machine, report, advice, { adjuster, from: installed, to: proposed }),
    );
    return tasks.length === 0 ? [] : [{ access: null, minutes: null, tasks }];
  }
  return work.steps.map(({ access, openMinutes, changes }) => ({
    access,
    minutes: access === null || openMinutes === 0 ? null : openMinutes,
    tasks: changes.map((change) => taskOf(machine, report, advice, change)),
  }));
}

interface Change {
  readonly adjuster: string;
  readonly from: number;
  readonly to: number;
  readonly holds?: readonly Pieces[];
  readonly takes?: readonly Pieces[];
  readonly givesBack?: readonly Pieces[];
  readonly stackUnknown?: boolean;
}

function taskOf(machine: Machine, report: EarlierReport, advice: Advice, change: Change): Task {
  const { adjuster, from, to, holds, takes = [], givesBack = [], stackUnknown } = change;
  const described = machine.description.adjusters.find(({ id }) => id === adjuster);
  const unit = described?.unit ?? 'unit';
  const pieces = [
    stackUnknown === true ? takeAllOut : '',
    takes.length === 0 ? '' : `put in ${piecesWords(takes)}`,
    givesBack.length === 0 ? '' : `take out ${piecesWords(givesBack)}`,
    holds === undefined || holds.length === 0 ? '' : `the stack is then ${piecesWords(holds)}`,
  ].filter(Boolean);
  return {
    adjuster,
    name: described?.name ?? null,
    unit,
    from,
    to,
    min: described?.min ?? Math.min(from, to),
    max: described?.max ?? Math.max(from, to),
    what:
      pieces.length > 0
        ? pieces.join('; ')
        : `${to < from ? 'take out' : 'add'} ${plural(Math.abs(to - from), unit)}`,
    why: whyOf(machine, report, advice, adjuster),
  };
}

/** The group that an adjuster moves and that gains most in units of its tolerance, before and after all that is proposed. */
function whyOf(machine: Machine, report: EarlierReport, { predicted }: Advice, id: string): string | null {
  const { adjusters, channels, barrel } = machine.description;
  const adjuster = adjusters.find((each) => each.id === id);
  if (adjuster === undefined) return null;
  const gains = predicted.flatMap((row) => {
    const channel = channels.findIndex((each) => each.id === row.channel);
    const sector = barrel.sectors.findIndex((each) => each.id === row.sector);
    const { beforeMs, afterMs, toleranceMs } = row;
    if (channel < 0 || sector < 0 || beforeMs === null || afterMs === null) return [];
    if (!moves(machine, adjuster, channel, sector)) return [];
    const gain = (Math.abs(beforeMs) - Math.abs(afterMs)) / (toleranceMs ?? channels[channel].toleranceMs);
    return gain > 0 ? [{ gain, row, beforeMs, afterMs }] : [];
  });
  if (gains.length === 0) return null;
  const { row, beforeMs, afterMs } = gains.reduce((a, b) => (b.gain > a.gain ? b : a));
  const name = channelsOf(report).find((channel) => channel.id === row.channel)?.name ?? row.channel;
  return `${name} in sector ${row.sector}: ${leaning(beforeMs)} now, ${leaning(afterMs)} expected`;
}

function leaning(ms: number): string {
  const size = figures(Math.abs(ms));
  return Number(size) === 0 ? '0 ms' : `${size} ms ${ms > 0 ? 'late' : 'early'}`;
}
