/** What is made anew as often as it is asked for is never written over what a person wrote. */
import { InputProblem } from '../../analysis/input/problem.ts';
import { isOwn, type OwnFile } from '../../analysis/report/own-file.ts';

/**
 * @param old   what stands in the file's place, null where nothing does
 * @param shown the file's path as the person knows it
 * @throws InputProblem where that is not as we wrote it
 */
export function refuseOthers(file: OwnFile, old: string | null, shown: string = file.name): void {
  if (old === null || isOwn(file, old)) return;
  const what = `was written or changed by hand, and a new ${file.what} would replace it`;
  throw new InputProblem(shown, '', what, 'rename it or put it elsewhere');
}
