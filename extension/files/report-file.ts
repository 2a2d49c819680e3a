/** A take's report.json, read back. */
import { join } from 'node:path';
import { parseReport } from '../../analysis/report/parse.ts';
import type { Report } from '../../analysis/results.ts';
import { asText, pathWithin, readBytesIfThere } from './read.ts';
import { codeOf } from './fault.ts';
import { lstat } from 'node:fs/promises';

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
  return bytes === null ? null : parseReport(file, asText(bytes, file));
}
