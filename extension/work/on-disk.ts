/** The job that reads and writes a folder by itself: hours of audio never pass through the editor. */
import { join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { voicesInStep } from '../../analysis/hits/hear-in-step.ts';
import { asTakeOf, whichMachine, type Possible } from '../../analysis/hits/which-machine.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { kindOf } from '../../analysis/take/kinds.ts';
import { measure } from '../../analysis/pipeline.ts';
import { stretchOf } from '../../analysis/take/audio/growing.ts';
import { takeFileName } from '../../analysis/take/description.ts';
import { readTake } from '../../analysis/take/read.ts';
import { reportsBefore } from '../../analysis/take/order.ts';
import { openDigests } from '../files/digests.ts';
import { ofTune } from '../../analysis/machine/tune.ts';
import { presentFiles } from '../files/freshness.ts';
import { listTakes, locate, readMachineFolder } from '../files/machine-folder.ts';
import { analyseTake } from '../files/take-analysis.ts';
import { writeHeard } from '../files/hear-folder.ts';
import { readVoices } from '../files/voice-files.ts';
import { isInside, openNamed, openSources, readInside, realRoot } from '../files/read.ts';
import { readClips } from './clips.ts';
import { solosIn } from './solos.ts';
import { loadExtras } from './plugins.ts';
import { sourceOf } from './on-values.ts';
import type { Workers } from './serve.ts';

/**
 * The editor knows folders by the addresses they were opened at, which may go through links.
 *
 * @returns real paths
 * @throws InputProblem where there is no take of that machine
 */
async function takeAt(givenRoot: string, path: string) {
  const root = await realRoot(givenRoot);
  const { take } = await locate(path);
  if (take === null) throw new InputProblem(path, '', 'is no take’s folder', 'name a folder below takes/');
  if (isInside(root, take.folder)) return { root, take };
  throw new InputProblem(
    path,
    '',
    'is a link that leads out of the machine’s folder',
    'copy the recording into takes/ instead',
  );
}

export function analyseFolder(load: (plugin: string) => Promise<unknown>): Workers['analyseFolder'] {
  return async ({ root: given, shown = given, take: path, plugins }, run) => {
    const extras = await loadExtras(plugins, load);
    const { root, take } = await takeAt(given, path);
    const machineFolder = await readMachineFolder(root, shown);
    const history = async () => (await run.turn()) ?? reportsBefore(await listTakes(root, shown), take.name);
    return analyseTake(machineFolder, take, history, run, extras);
  };
}

export const hearFolder: Workers['hearFolder'] = async ({ root: given, take: path, report }, run) => {
  const { root, take } = await takeAt(given, path);
  const { machine } = await readMachineFolder(root, given);
  return writeHeard(root, take, machine, report, run);
};

export const voicesOfFolder: Workers['voicesOfFolder'] = async ({ root: given, shown, take: path }, run) => {
  const { root, take } = await takeAt(given, path);
  const { machine } = await readMachineFolder(root, shown);
  const sources = await openSources(root, take.folder, take.shown);
  try {
    const read = await readTake(take.name, sources.files, machine, {}, run);
    return await voicesInStep(
      read,
      ofTune(machine, read.description.tune),
      run,
      await readVoices(root, shown),
    );
  } finally {
    await sources.close();
  }
};

export const solosOnDisk: Workers['solosOnDisk'] = async ({ root: given, shown, files, order }, run) => {
  const root = await realRoot(given);
  const { machine } = await readMachineFolder(root, shown);
  const opened: Awaited<ReturnType<typeof openNamed>>[] = [];
  try {
    for (const file of files) opened.push(await openNamed(file));
    return await solosIn(
      opened.map(({ file }) => file),
      { machine, order, voices: await readVoices(root, shown) },
      run,
    );
  } finally {
    for (const { close } of opened) await close();
  }
};

/** Its own take.jsonc says which track is whose, where it lies in a take's folder; markers beside it are not read. */
export const listenTo: Workers['listenTo'] = async ({ root: given, shown, file, lastS }, run) => {
  const root = await realRoot(given);
  const { machine } = await readMachineFolder(root, shown);
  const { take } = await locate(file).catch(() => ({ take: null }));
  const described =
    take === null ? null : await readInside(root, join(take.folder, takeFileName), takeFileName);
  const { file: recording, close } = await openNamed(file);
  try {
    const stretch = await stretchOf(recording, lastS);
    if (stretch === null) return null;
    const { source, recordedS, fromS } = stretch;
    const files = described === null ? [source] : [source, sourceOf(takeFileName, described)];
    const voices = await readVoices(root, shown);
    const report = await measure({ machine, name: 'listening', files, earlier: null, voices }, run);
    return { report, recordedS, stretchS: recordedS - fromS };
  } finally {
    await close();
  }
};

export const whichMachineOf: Workers['whichMachineOf'] = async ({ machines, file }, run) => {
  const { file: source, close } = await openNamed(file);
  try {
    if ((await kindOf(source)) !== 'audio') return null;
    const audio = await openAudio(source);
    const possible: Possible[] = [];
    for (const { root, shown } of machines) {
      const { machine } = await readMachineFolder(await realRoot(root), shown);
      possible.push({ machine, take: asTakeOf(machine, audio), voices: await readVoices(root, shown) });
    }
    return { which: await whichMachine(possible, run), lengthS: audio.length / audio.sampleRate };
  } finally {
    await close();
  }
};

/** The WAV family is read in parts, other formats are decoded whole. */
export const clipsOfFolder: Workers['clipsOfFolder'] = async ({ root: given, take: path, wants }) => {
  const { root, take } = await takeAt(given, path);
  const sources = await openSources(root, take.folder, take.shown);
  try {
    return await readClips(sources.files, wants);
  } finally {
    await sources.close();
  }
};

export const digestsOfFolder: Workers['digestsOfFolder'] = async ({ root, take: path, keep }) => {
  const { take } = await locate(path);
  if (take === null) throw new InputProblem(path, '', 'is no take’s folder', 'name a folder below takes/');
  const cache = await openDigests(root);
  const sources = await openSources(root, take.folder, take.shown);
  try {
    const { files, digest } = await presentFiles(root, take, sources, cache);
    const rows = [];
    for (const { name, sizeBytes, kind } of files)
      rows.push({ file: name, sizeBytes, kind, sha256: await digest(name) });
    if (keep) await cache.save();
    return rows;
  } finally {
    await sources.close();
  }
};
