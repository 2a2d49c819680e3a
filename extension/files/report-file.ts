/** A take's report.json, read back from the disk. */
import { join } from 'node:path';
import { parseReport } from '../../analysis/report/parse.ts';
import { parseEarlier } from '../../analysis/report/parse-part.ts';
import type { EarlierReport, Report } from '../../analysis/results/results.ts';
import { parsedReport } from '../common/machine-folder.ts';
import { readInside } from './read.ts';

/**
 * @param root real path of the machine's folder
 * @param folder of the take, wherever in it
 * @returns null where the take has not been analysed
 * @throws InputProblem where the file is not a report
 */
export function readReport(root: string, folder: string, shown: string): Promise<Report | null> {
  return read(root, folder, shown, parseReport);
}

/** The same without its strokes: of many takes they would fill the memory, and nobody asks for them. */
export function readEarlier(root: string, folder: string, shown: string): Promise<EarlierReport | null> {
  return read(root, folder, shown, parseEarlier);
}

async function read<R>(
  root: string,
  folder: string,
  shown: string,
  parse: (file: string, text: string) => R,
): Promise<R | null> {
  const file = join(shown, 'report.json');
  const bytes = await readInside(root, join(folder, 'report.json'), file);
  return bytes && parsedReport(file, bytes, parse);
}
