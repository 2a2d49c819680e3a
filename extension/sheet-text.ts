/** The work sheet as it is written beside machine.jsonc, the same by the terminal and in the editor. */
import { parseHTML } from 'linkedom';
import type { Machine } from '../analysis/machine/machine.ts';
import { InputProblem } from '../analysis/problem.ts';
import { sheetOf } from '../analysis/report/sheet/sheet.ts';
import { isOwnSheet, renderSheet, sheetFile } from '../analysis/report/sheet/sheet-page.ts';
import type { Advice, EarlierReport } from '../analysis/results.ts';

/**
 * @param newest report of the take that is acted on
 * @returns the file's text
 */
export function sheetText(machine: Machine, newest: EarlierReport, advice: Advice): string {
  const { document } = parseHTML('<!doctype html><html><body></body></html>');
  return renderSheet(sheetOf(machine, newest, advice), machine, newest.tune, document);
}

/**
 * @param old   what stands in the sheet's place, null where nothing does
 * @param shown the sheet's path as the person knows it
 * @throws InputProblem where that is not a sheet as we wrote it
 */
export function refuseOthersSheet(old: string | null, shown: string = sheetFile): void {
  if (old === null || isOwnSheet(old)) return;
  const what = 'was written or changed by hand, and a new work sheet would replace it';
  throw new InputProblem(shown, '', what, 'rename it or put it elsewhere');
}
