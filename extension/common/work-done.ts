/** What was really fitted, as text for machine.jsonc and CALIBRATION.md. The terminal and the editor both use it. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { applySettings } from '../../analysis/machine/read.ts';
import { renderApplied } from '../../analysis/report/entry.ts';
import { unnotedFault, type Unnoted } from '../../analysis/report/unnoted.ts';
import type { Advice, EarlierReport } from '../../analysis/results/results.ts';
import type { Fitted } from './fitted.ts';

export interface WorkDone {
  /** What changed: adjuster, unit, setting before and after. */
  readonly changed: readonly {
    readonly adjuster: string;
    readonly unit: string;
    readonly before: number;
    readonly after: number;
  }[];
  /** machine.jsonc with the new settings, all else as it was. */
  readonly description: string;
  /** The changelog's entry. */
  readonly entry: string;
  /** Every proposed setting is fitted, from where it was known to be, and no other was changed: its pieces were used. */
  readonly isAsPlanned: boolean;
}

/** What the work is held against. */
export interface WorkGoneBy {
  readonly machine: Machine;
  /** machine.jsonc */
  readonly text: string;
  /** The report whose advice was worked on; null where there is none. */
  readonly newest: EarlierReport | null;
  readonly advice: Advice;
  /** Where machine.jsonc differs from what was noted last: then the change is noted from there. */
  readonly unnoted?: readonly Unnoted[];
  /** How the person says what is fitted now, given the adjusters in question. */
  readonly enter?: (adjusters: readonly string[]) => string;
}

/**
 * A proposal is noted as done only where its settings before are beyond doubt.
 *
 * @param done adjusters whose proposal was carried out; null where that is the whole proposal, which counts from every setting
 * @throws InputProblem
 */
export function refuseUnnoted(by: WorkGoneBy, done: readonly string[] | null): void {
  const { machine, newest, advice, unnoted = [] } = by;
  const own = unnoted.filter(({ adjuster }) => done === null || done.includes(adjuster));
  if (own.length === 0) return;
  const enter = by.enter ?? (() => 'enter what is fitted now');
  const touched = new Set([
    ...own.map(({ adjuster }) => adjuster),
    ...(done ?? advice.settings.map(({ adjuster }) => adjuster)),
  ]);
  throw unnotedFault(machine.file, own, newest?.take ?? null, enter([...touched]));
}

/**
 * @param fitted what was really fitted; null where the proposal was followed
 * @param now    the day it was done, in the person's calendar
 * @returns null where there is nothing to record
 * @throws InputProblem where the text is no machine, or a proposal was followed that counts from settings nobody noted
 */
export function workDone(by: WorkGoneBy, fitted: Fitted | null, now: Date): WorkDone | null {
  if (fitted === null) refuseUnnoted(by, null);
  const { machine, text, newest, advice, unnoted = [] } = by;
  const proposed = new Map(advice.settings.map(({ adjuster, proposed }) => [adjuster, proposed]));
  const noted = new Map(unnoted.map(({ adjuster, noted }) => [adjuster, noted]));
  const rows = machine.description.adjusters.flatMap(({ id, unit, installed }) => {
    const own = fitted === null ? proposed.get(id) : fitted[id];
    const after = own ?? installed;
    // Named by the person, it is noted from where the record left it, though machine.jsonc may have it already.
    const before = own === undefined ? installed : (noted.get(id) ?? installed);
    return proposed.has(id) || after !== before
      ? [{ adjuster: id, unit, before, after, proposed: proposed.get(id) ?? null }]
      : [];
  });
  if (rows.length === 0) return null;
  const changed = rows.filter(({ before, after }) => before !== after);
  // What nobody has named is where it was noted, or where machine.jsonc has it: nothing is foreseen of that.
  const isAsProposed = rows.every(({ after, proposed }) => after === proposed);
  const followed = isAsProposed && unnoted.every(({ adjuster }) => fitted?.[adjuster] !== undefined);
  const settings = Object.fromEntries(changed.map(({ adjuster, after }) => [adjuster, after]));
  return {
    changed,
    isAsPlanned: isAsProposed && unnoted.length === 0,
    description:
      changed.length === 0 ? text : applySettings(text, settings, machine.file, stacksOf(by, settings)),
    entry: renderApplied({
      date: localDate(now),
      take: newest?.take ?? null,
      fitted: rows,
      foreseen: followed && newest !== null ? { ...newest, advice } : null,
    }),
  };
}

/**
 * Pieces of the stacks that were built as advised, mm: of those that are listed in machine.jsonc, and of those in which not every
 * piece is a unit any more.
 */
function stacksOf(
  { machine, advice, unnoted = [] }: WorkGoneBy,
  settings: Readonly<Record<string, number>>,
): Record<string, readonly number[]> {
  const changes = (advice.work?.steps ?? []).flatMap((step) => step.changes);
  const built = changes.flatMap(({ adjuster, to, holds }) => {
    const own = machine.description.adjusters.find(({ id }) => id === adjuster);
    if (own === undefined || holds === undefined || settings[adjuster] !== to) return [];
    if (unnoted.some((each) => each.adjuster === adjuster)) return [];
    const unitMm = 'mm' in own.perUnit ? Math.abs(own.perUnit.mm) : NaN;
    const isPlain = own.stack === undefined && holds.every(({ mm }) => Math.abs(mm - unitMm) < 1e-6);
    const pieces = holds.flatMap(({ mm, count }) => Array.from({ length: count }, () => mm));
    return isPlain ? [] : [[adjuster, pieces] as const];
  });
  return Object.fromEntries(built);
}

/** The day as the person's calendar has it, ISO 8601. */
export function localDate(now: Date): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
