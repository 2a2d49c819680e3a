/** A machine's folder on the disk: found from anywhere inside it, and read by the common reader. */
import { lstat, realpath, stat } from 'node:fs/promises';
import { basename, dirname, join, relative, resolve } from 'node:path';
import type { Machine } from '../../analysis/machine/machine.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import {
  machineFile,
  machineFrom,
  takeNames,
  takesFolder,
  takesOnRecord,
  type TakeOnRecord,
} from '../common/machine-folder.ts';
import { asText } from '../common/utf8.ts';
import { asProblem } from './fault.ts';
import { folderOnDisk } from './folder-reader.ts';
import { isInside, pathWithin, readBytes } from './read.ts';

export interface MachineFolder {
  /** Real path. */
  readonly root: string;
  /** As the person knows it. */
  readonly shown: string;
  readonly machine: Machine;
  /** machine.jsonc as it was read, to tell later whether someone changed it. */
  readonly descriptionBytes: Uint8Array;
}

export interface TakeFolder {
  readonly name: string;
  /** Real path. */
  readonly folder: string;
  readonly shown: string;
}

/** A take with what its last analysis left, and where it lies. */
export interface AnalysedTake extends TakeFolder, TakeOnRecord {}

/** Where a path leads: into which machine's folder, and into which take of it, if any. */
export interface Place {
  readonly root: string;
  readonly shownRoot: string;
  readonly take: TakeFolder | null;
}

/**
 * Finds the nearest machine.jsonc at or above a path.
 *
 * @param path a machine's folder or its machine.jsonc, a take's folder, or a file in one
 * @throws InputProblem where the path is not there, is a link out of the machine's folder that it stands in, or no
 *         machine.jsonc is above it
 */
export async function locate(path: string): Promise<Place> {
  let real: string;
  let isFolder: boolean;
  try {
    real = await realpath(path);
    isFolder = (await stat(real)).isDirectory();
  } catch (error) {
    throw (await leadsNowhere(path)) ?? asProblem(error, path, 'read');
  }
  const folder = isFolder ? real : dirname(real);
  const shown = isFolder ? path : dirname(path);
  await refuseLinkOut(path, real);
  for (let root = folder; ; root = dirname(root)) {
    if (await isFile(join(root, machineFile))) {
      const isTake = root !== folder && relative(root, folder) !== takesFolder;
      return {
        root,
        shownRoot: shownFrom(shown, folder, root),
        take: isTake ? { name: basename(folder), folder, shown } : null,
      };
    }
    if (dirname(root) === root) break;
  }
  throw await noMachine(folder, path);
}

/**
 * Reads the machine of a folder: machine.jsonc and its pattern.
 *
 * @param root real path
 * @throws InputProblem where either cannot be used
 */
export async function readMachineFolder(root: string, shown: string): Promise<MachineFolder> {
  const file = join(shown, machineFile);
  const descriptionBytes = await readBytes(await pathWithin(root, root, machineFile, file), file);
  const machine = await machineFrom(folderOnDisk(root, shown), asText(descriptionBytes, file));
  return { root, shown, machine, descriptionBytes };
}

/** As takesOnRecord, with where each take lies. */
export async function listTakes(root: string, shown: string): Promise<AnalysedTake[]> {
  const takes = (await takesOnRecord(folderOnDisk(root, shown))).map(async (take) => ({
    ...take,
    ...(await takeFolder(root, shown, take.name)),
  }));
  return Promise.all(takes);
}

/** The folders in takes/, by name. */
export async function takeFolders(root: string, shown: string): Promise<TakeFolder[]> {
  const names = await takeNames(folderOnDisk(root, shown));
  return Promise.all(names.map((name) => takeFolder(root, shown, name)));
}

async function takeFolder(root: string, shown: string, name: string): Promise<TakeFolder> {
  const shownTake = join(shown, takesFolder, name);
  return { name, folder: await pathWithin(root, join(root, takesFolder), name, shownTake), shown: shownTake };
}

/** A link whose end is missing is not simply "not there": the person sees it in the folder. */
async function leadsNowhere(path: string): Promise<InputProblem | null> {
  const bare = path.replace(/(?<=.)[/\\]+$/, '');
  const found = await lstat(bare).catch(() => null);
  return found?.isSymbolicLink()
    ? new InputProblem(
        path,
        '',
        'is a link to something that is not there',
        'remove the link, or put back what it leads to',
      )
    : null;
}

/** The machine's folder itself may be reached through a link, a take in it may not lie elsewhere. */
async function refuseLinkOut(path: string, real: string): Promise<void> {
  for (let above = resolve(path); ; above = dirname(above)) {
    if (await isFile(join(above, machineFile))) {
      if (isInside(await realpath(above), real)) return;
      throw new InputProblem(
        path,
        '',
        'is a link that leads out of the machine’s folder',
        'copy the recording into takes/ instead',
      );
    }
    if (dirname(above) === above) return;
  }
}

async function isFile(path: string): Promise<boolean> {
  return (await stat(path).catch(() => null))?.isFile() ?? false;
}

/** The machine's folder in the person's own words: as many steps up from the path they gave. */
function shownFrom(shown: string, folder: string, root: string): string {
  const up = relative(folder, root);
  return up === '' ? shown : join(shown, up);
}

/** The mistake behind a missing machine.jsonc, where it can be seen. */
async function noMachine(folder: string, path: string): Promise<InputProblem> {
  for (const near of ['machine.json', 'Machine.jsonc', 'machine.jsonc.txt', 'machine.jsonc.jsonc'])
    for (const place of [folder, dirname(folder), dirname(dirname(folder))])
      if (await isFile(join(place, near)))
        return new InputProblem(
          path,
          '',
          `${near} has another name than machine.jsonc`,
          'rename it machine.jsonc',
        );
  return new InputProblem(
    path,
    '',
    'no machine.jsonc is in this folder or above it',
    'write one in the machine’s folder (see "Describe your machine" in the README), or check the path',
  );
}
