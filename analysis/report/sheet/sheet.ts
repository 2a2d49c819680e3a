/**
 * The work sheet as values: what a person takes along to the machine. Everything stands in the order of the work; words and
 * numbers are ready to print, and nothing here is markup.
 */
import { moves } from '../../machine/effects.ts';
import type { Machine } from '../../machine/machine.ts';
import { withMinus } from '../../words/minus.ts';
import { piecesWords, type Pieces } from '../../advice/pieces.ts';
import { turnsHeard } from '../../advice/take-noise.ts';
import type { Advice, EarlierReport } from '../../results/results.ts';
import { safetyLine } from '../page.ts';
import { channelsOf, figures, plural, verdictOf } from '../reading.ts';
import { viewOfMachine, type BarrelView } from './barrel-view.ts';
import { takeAllOut } from '../work-words.ts';
import { laidPins, moveWords, pinPlaceWords, type LaidPin } from './laid-pins.ts';

/** One adjuster to change. */
export interface Task {
  readonly adjuster: string;
  /** The adjuster's own name beside its id, where it has one. */
  readonly name: string | null;
  readonly from: string;
  readonly to: string;
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

/** A pin to move or to look at. */
export interface PinTask {
  readonly where: string;
  readonly what: string;
}

export interface Sheet {
  readonly machine: string;
  readonly take: string;
  readonly recorded: string | null;
  readonly safety: string;
  readonly verdict: string;
  readonly summary: string;
  readonly minutes: number | null;
  readonly openings: readonly SheetOpening[];
  readonly pins: readonly PinTask[];
  /** What is in doubt: adjusters that are left alone, and what would tell. */
  readonly doubts: readonly string[];
  readonly record: readonly string[];
  /** Adjusters of `openings`, in their order. */
  readonly changed: readonly string[];
  readonly view: BarrelView;
  readonly laid: readonly LaidPin[];
}

/**
 * @param report of the take that is acted on, the newest
 * @param advice for the machine as it stands now
 */
export function sheetOf(machine: Machine, report: EarlierReport, advice: Advice): Sheet {
  const view = viewOfMachine(machine, report.tune);
  const laid = laidPins(view, report);
  const openings = openingsOf(machine, report, advice);
  return {
    machine: report.machine,
    take: report.take,
    recorded: report.recorded,
    safety: safetyLine,
    verdict: verdictOf(report).sentence,
    summary: advice.summary,
    minutes: advice.work?.minutes ?? null,
    openings,
    pins: pinTasks(view, report, laid),
    doubts: (advice.doubts ?? []).map(({ message }) => message),
    record: recordWords(report, advice, openings.length > 0),
    changed: openings.flatMap(({ tasks }) => tasks.map(({ adjuster }) => adjuster)),
    view,
    laid,
  };
}

/** By the work's own order; advice without one gives its settings as they stand. */
function openingsOf(machine: Machine, report: EarlierReport, advice: Advice): SheetOpening[] {
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
    from: withMinus(from),
    to: withMinus(to),
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

function pinTasks(view: BarrelView, report: EarlierReport, laid: readonly LaidPin[]): PinTask[] {
  const moved = laid
    .filter(({ sits, step }) => sits !== step)
    .map((pin) => ({
      where: pinPlaceWords(view, laid, pin),
      what: `it sits at step ${pin.sits}: move it ${moveWords(view, pin)}; where the barrel is right, correct the pattern`,
    }));
  const { channels } = view;
  const seated = report.findings.flatMap(({ kind, channel, step, message }) => {
    if (kind !== 'pin-error' || channel === undefined || step === undefined) return [];
    const pin = laid.find((each) => channels[each.channel].id === channel && each.step === step);
    if (pin === undefined) return [];
    const where = `re-seat unless it is meant so, the worst first: ${pinPlaceWords(view, laid, pin)}`;
    return [{ where, what: message.replace(/\.$/, '') }];
  });
  return [...moved, ...seated];
}

/** Where and how long to record next. */
function recordWords(report: EarlierReport, advice: Advice, isChanged: boolean): string[] {
  const { settling, experiment, doubts = [], unheard = [], turnsToResolve, tunes } = advice;
  const lines: string[] = [];
  for (const { channel, why } of unheard) lines.push(`So that ${channel} is heard: ${why}.`);
  for (const { test } of doubts) {
    if (test === null) continue;
    const { adjuster, from, to, turns } = test;
    lines.push(
      `To settle what is in doubt: ${adjuster} ${withMinus(from)} → ${withMinus(to)} alone, then ${plural(turns, 'turn')}.`,
    );
  }
  const asked = isChanged ? (settling?.turns ?? experiment?.whole.turns ?? null) : (turnsToResolve ?? null);
  const turns = asked ?? (turnsHeard(report) || null);
  const why =
    asked !== null
      ? isChanged
        ? ', the shortest take that settles what is not sure yet'
        : ', so that every interval lies within tolerance'
      : ', as many as the last take had';
  // What a change did to one tune's pins says little of another's.
  const each = (tunes?.rows ?? []).map(({ tune }) => tune);
  const ofEach = isChanged && each.length > 1 ? ` of each tune (${each.join(', ')})` : '';
  if (turns !== null)
    lines.push(
      `${isChanged ? 'After the work, record' : 'Record'} ${plural(turns, 'whole turn')} or more${ofEach}${why}.`,
    );
  if (tunes !== undefined && tunes.missing.length > 0)
    lines.push(`No take was measured of ${tunes.missing.join(', ')}: record it too.`);
  return lines;
}
