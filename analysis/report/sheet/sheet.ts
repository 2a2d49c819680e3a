/**
 * The work sheet as values: what a person takes along to the machine. Everything stands in the order of the work; words and
 * numbers are ready to print, and nothing here is markup.
 */
import type { Machine } from '../../machine/machine.ts';
import { withMinus } from '../../words/minus.ts';
import { turnsHeard } from '../../advice/take-noise.ts';
import type { Advice, EarlierReport } from '../../results/results.ts';
import { safetyLine } from '../page.ts';
import { plural, verdictOf } from '../reading.ts';
import { viewOfMachine, type BarrelView } from './barrel-view.ts';
import { openingsOf, type SheetOpening } from './openings.ts';
import { laidPins, moveWords, pinPlaceWords, type LaidPin } from './laid-pins.ts';

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

/** Where and how long to record next, a sentence each. @param isChanged something is proposed, and recorded is after it */
export function recordWords(report: EarlierReport, advice: Advice, isChanged: boolean): string[] {
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
