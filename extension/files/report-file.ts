/** A take's report.json, read back. */
import { lstat } from 'node:fs/promises';
import { join } from 'node:path';
import { InputProblem } from '../../analysis/problem.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import type { Report } from '../../analysis/results.ts';
import { codeOf } from './fault.ts';
import { asText, pathWithin, readBytesIfThere } from './read.ts';

/**
 * @param root real path of the machine's folder
 * @returns null where the take has not been analysed
 * @throws InputProblem where the file is not a report
 */
export async function readReport(root: string, folder: string, shown: string): Promise<Report | null> {
  const file = join(shown, 'report.json');
  try {
    await lstat(join(folder, 'report.json'));
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return null;
    throw error;
  }
  const bytes = await readBytesIfThere(await pathWithin(root, folder, 'report.json', file), file);
  if (bytes === null) return null;
  try {
    return parseReport(file, asText(bytes, file));
  } catch (error) {
    if (!(error instanceof InputProblem)) throw error;
    // Without it the settings of that day are lost; only the person can say that they do not matter.
    throw new InputProblem(
      file,
      error.place,
      error.what,
      'restore it from git, or delete it and analyse again: it keeps the settings of the day',
    );
  }
}
