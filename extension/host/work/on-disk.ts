/** The job that reads and writes a folder by itself: hours of audio never pass through the editor. */
import { InputProblem } from '../../../analysis/problem.ts';
import { voicesHeard } from '../../../analysis/hits/hear.ts';
import { readTake } from '../../../analysis/take/read.ts';
import { reportsBefore } from '../../../analysis/take/order.ts';
import { listTakes, locate, readMachineFolder } from '../../files/machine-folder.ts';
import { analyseTake } from '../../take-analysis.ts';
import { writeHeard } from '../../hear-folder.ts';
import { readVoices } from '../../voice-files.ts';
import { openSources } from '../../files/read.ts';
import { readClips } from './clips.ts';
import { loadExtras } from './plugins.ts';
import type { Workers } from './serve.ts';

export function analyseFolder(load: (plugin: string) => Promise<unknown>): Workers['analyseFolder'] {
  return async ({ root, shown = root, take: path, plugins }, run) => {
    const extras = await loadExtras(plugins, load);
    const { take } = await locate(path);
    if (take === null) throw new InputProblem(path, '', 'is no take’s folder', 'name a folder below takes/');
    const machineFolder = await readMachineFolder(root, shown);
    const history = async () => (await run.turn()) ?? reportsBefore(await listTakes(root, shown), take.name);
    return analyseTake(machineFolder, take, history, run, extras);
  };
}

export const hearFolder: Workers['hearFolder'] = async ({ root, take: path, report }, run) => {
  const { take } = await locate(path);
  if (take === null) throw new InputProblem(path, '', 'is no take’s folder', 'name a folder below takes/');
  const { machine } = await readMachineFolder(root, root);
  return writeHeard(root, take, machine, report, run);
};

export const voicesOfFolder: Workers['voicesOfFolder'] = async ({ root, shown, take: path }, run) => {
  const { take } = await locate(path);
  if (take === null) throw new InputProblem(path, '', 'is no take’s folder', 'name a folder below takes/');
  const { machine } = await readMachineFolder(root, shown);
  const sources = await openSources(root, take.folder, take.shown);
  try {
    const read = await readTake(take.name, sources.files, machine, {}, run);
    return await voicesHeard(read, machine, run, await readVoices(root, shown));
  } finally {
    await sources.close();
  }
};

/** The WAV family is read in parts, other formats are decoded whole. */
export const clipsOfFolder: Workers['clipsOfFolder'] = async ({ root, take, wants }) => {
  const sources = await openSources(root, take, take);
  try {
    return await readClips(sources.files, wants);
  } finally {
    await sources.close();
  }
};
