/** Whether a take's report still speaks of its files and its machine. */
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { correctionsFile } from '../../analysis/corrections.ts';
import { describesMachine } from '../../analysis/report/same-machine.ts';
import type { AnalysedTake, MachineFolder } from './machine-folder.ts';
import { openSources } from './read.ts';

/**
 * true where the take was never analysed; where one of its files, the machine's pattern or a saved voice is newer than its
 * report; or where the machine now has other channels, sectors or tolerances.
 */
export async function isStale(machineFolder: MachineFolder, take: AnalysedTake): Promise<boolean> {
  const { root, machine, patternMs, voicesMs } = machineFolder;
  const written = await stat(join(take.folder, 'report.json')).catch(() => null);
  if (take.report === null || written === null) return true;
  if (Math.max(patternMs, voicesMs) > written.mtimeMs) return true;
  if (!describesMachine(take.report, machine)) return true;
  const sources = await openSources(root, take.folder, take.shown);
  const corrected = await stat(join(take.folder, correctionsFile)).catch(() => null);
  return Math.max(sources.newestMs, corrected?.mtimeMs ?? -Infinity) > written.mtimeMs;
}
