/** The work sheet as it is written beside machine.jsonc, the same by the terminal and in the editor. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { sheetOf } from '../../analysis/report/sheet/sheet.ts';
import { renderSheet } from '../../analysis/report/sheet/sheet-page.ts';
import type { Advice, EarlierReport } from '../../analysis/results/results.ts';
import { emptyDocument } from './empty-document.ts';

/**
 * @param newest report of the take that is acted on
 * @returns the file's text
 */
export function sheetText(machine: Machine, newest: EarlierReport, advice: Advice): string {
  return renderSheet(sheetOf(machine, newest, advice), newest.tune, emptyDocument());
}
