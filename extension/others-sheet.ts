/** A work sheet is made anew as often as it is asked for, but never over what a person wrote. */
import { InputProblem } from '../analysis/problem.ts';
import { isOwnSheet, sheetFile } from '../analysis/report/sheet/own-sheet.ts';

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
