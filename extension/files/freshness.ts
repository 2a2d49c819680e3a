/** Whether the reports of takes on the disk still speak of them: their files, digested, held against the reports. */
import { stat } from 'node:fs/promises';
import { join, relative } from 'node:path';
import type { SourceFile } from '../../analysis/ports.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { patternsOf, withItsTune } from '../../analysis/machine/tune.ts';
import { freshnessOf, type Freshness, type Present } from '../../analysis/report/freshness.ts';
import { inputFiles, machineDigests } from '../common/inputs.ts';
import { voiceNames } from '../common/machine-folder.ts';
import { folderOnDisk } from './folder-reader.ts';
import { readVoices } from './voice-files.ts';
import { openDigests, nodeSha256, type DigestCache } from './digests.ts';
import type { AnalysedTake, MachineFolder, TakeFolder } from './machine-folder.ts';
import { openSources, type OpenSources } from './read.ts';

/** A take with how its report stands. */
export interface JudgedTake extends AnalysedTake {
  /** null where there is no report. */
  readonly freshness: Freshness | null;
}

/**
 * @param takes of the machine, from listTakes; one whose files cannot be used comes back with its fault
 * @throws InputProblem where a saved voice cannot be used
 */
export async function judgeTakes(
  machineFolder: MachineFolder,
  takes: readonly AnalysedTake[],
): Promise<JudgedTake[]> {
  const { root, shown, machine } = machineFolder;
  const cache = await openDigests(root);
  const digests = await machineDigests(machine, await readVoices(root, shown), nodeSha256);
  const judged: JudgedTake[] = [];
  for (const take of takes) {
    if (take.report === null || take.fault !== null) {
      judged.push({ ...take, freshness: null });
      continue;
    }
    const { report } = take;
    try {
      const freshness = await withPresent(machineFolder, take, digests, cache, (present) =>
        freshnessOf(report, present),
      );
      judged.push({ ...take, report: withItsTune(report, machine), freshness });
    } catch (error) {
      if (!(error instanceof InputProblem)) throw error;
      judged.push({ ...take, freshness: null, fault: error });
    }
  }
  await cache.save();
  return judged;
}

async function withPresent<T>(
  machineFolder: MachineFolder,
  take: TakeFolder,
  digests: Present['digests'],
  cache: DigestCache,
  ask: (present: Present) => Promise<T>,
): Promise<T> {
  const { root, machine } = machineFolder;
  const sources = await openSources(root, take.folder, take.shown);
  try {
    const files = await presentFiles(root, take, sources, cache);
    return await ask({ ...files, machine, digests, newer: () => newerThan(machineFolder, take, sources) });
  } finally {
    await sources.close();
  }
}

/** A take's files as an analysis would find them, with digests that are kept where they were worked out before. */
export async function presentFiles(
  root: string,
  { folder }: TakeFolder,
  { files, stamps }: Pick<OpenSources, 'files' | 'stamps'>,
  cache: DigestCache,
): Promise<Pick<Present, 'files' | 'digest'>> {
  const inputs = new Map((await inputFiles(files)).map((input) => [input.source.name, input]));
  const sizeOf = ({ name, sizeBytes }: SourceFile) => ({ name, sizeBytes });
  return {
    files: [...inputs.values()].map(({ source, kind }) => ({ ...sizeOf(source), kind })),
    digest: (name) => cache.digest(inputs.get(name)!, relative(root, join(folder, name)), stamps.get(name)!),
  };
}

/** Reports from before digests were kept have nothing but their age. */
async function newerThan(
  { root, shown, machine }: MachineFolder,
  { folder }: TakeFolder,
  { stamps }: OpenSources,
): Promise<string | null> {
  const { mtimeMs } = await stat(join(folder, 'report.json'));
  const patterns = patternsOf(machine);
  if (await isAnyNewer(root, patterns, mtimeMs)) return patterns.join(', ');
  const voices = await voiceNames(folderOnDisk(root, shown)).catch(() => []);
  if (await isAnyNewer(root, voices, mtimeMs)) return 'voices';
  return [...stamps].find(([, stamp]) => stamp.mtimeMs > mtimeMs)?.[0] ?? null;
}

async function isAnyNewer(root: string, names: readonly string[], thanMs: number): Promise<boolean> {
  const found = await Promise.all(names.map((name) => stat(join(root, name)).catch(() => null)));
  return found.some((file) => file !== null && file.mtimeMs > thanMs);
}
