/** A take's two WAVE files, as it is and as its advice would have it, written into its folder. */
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { ofTune } from '../../analysis/machine/tune.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Run } from '../../analysis/ports.ts';
import { hearBefore } from '../../analysis/report/hear-take.ts';
import type { Report } from '../../analysis/results/results.ts';
import { readTake } from '../../analysis/take/read.ts';
import { openSources } from './read.ts';
import { writeWhole } from './write.ts';
import { readVoices } from './voice-files.ts';

/** A folder of its own: files beside the recording would be taken for recordings. */
const folderName = 'hear';

/**
 * @param root real path of the machine's folder
 * @returns where the files are, below the take's folder
 * @throws InputProblem where there is nothing to hear, or it cannot be written
 */
export async function writeHeard(
  root: string,
  take: { readonly name: string; readonly folder: string; readonly shown: string },
  machine: Machine,
  report: Report,
  run: Run,
): Promise<{ readonly before: string; readonly after: string; readonly tied: number }> {
  const saved = await readVoices(root, root);
  const sources = await openSources(root, take.folder, take.shown);
  try {
    const read = await readTake(take.name, sources.files, machine, {}, run);
    const heard = await hearBefore(read, ofTune(machine, report.tune), report, take.shown, { ...run, saved });
    const [before, after] = ['before.wav', 'after.wav'].map((name) => join(folderName, name));
    await mkdir(join(take.folder, folderName), { recursive: true });
    await writeWhole(
      root,
      [
        { path: join(take.folder, before), bytes: heard.before },
        { path: join(take.folder, after), bytes: heard.after },
      ],
      run.signal,
    );
    return { before, after, tied: heard.tied };
  } finally {
    await sources.close();
  }
}
