/** What was really fitted, as text for machine.jsonc and CALIBRATION.md. The terminal and the editor both use it. */
import type { Machine } from '../analysis/machine/machine.ts';
import { applySettings } from '../analysis/machine/read.ts';
import type { Adjuster } from '../analysis/machine/schema.ts';
import { renderApplied } from '../analysis/report/entry.ts';
import type { Advice, EarlierReport } from '../analysis/results.ts';
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
}

/**
 * @param text   machine.jsonc
 * @param newest the report whose advice was worked on; null where there is none
 * @param fitted what was really fitted; null where the proposal was followed
 * @param now    the day it was done, in the person's calendar
 * @returns null where there is nothing to record
 * @throws InputProblem where the text is no machine
 */
export function workDone(
  machine: Machine,
  text: string,
  newest: EarlierReport | null,
  advice: Advice,
  fitted: Fitted | null,
  now: Date,
): WorkDone | null {
  const proposed = new Map(advice.settings.map(({ adjuster, proposed }) => [adjuster, proposed]));
  const settingAfter = (adjuster: Adjuster) =>
    (fitted === null ? proposed.get(adjuster.id) : fitted[adjuster.id]) ?? adjuster.installed;
  const rows = machine.description.adjusters
    .filter((adjuster) => proposed.has(adjuster.id) || settingAfter(adjuster) !== adjuster.installed)
    .map((adjuster) => ({
      adjuster: adjuster.id,
      unit: adjuster.unit,
      before: adjuster.installed,
      after: settingAfter(adjuster),
      proposed: proposed.get(adjuster.id) ?? null,
    }));
  if (rows.length === 0) return null;
  const changed = rows.filter(({ before, after }) => before !== after);
  const followed = rows.every(({ after, proposed }) => after === proposed);
  const settings = Object.fromEntries(changed.map(({ adjuster, after }) => [adjuster, after]));
  return {
    changed,
    description: changed.length === 0 ? text : applySettings(text, settings, machine.file),
    entry: renderApplied({
      date: localDate(now),
      take: newest?.take ?? null,
      fitted: rows,
      foreseen: followed && newest !== null ? { ...newest, advice } : null,
    }),
  };
}

/** The day as the person's calendar has it, ISO 8601. */
export function localDate(now: Date): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
