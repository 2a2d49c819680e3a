/** A machine's folder: found from anywhere inside it, with its description and its takes in order. */
import { lstat, readdir, realpath, stat } from 'node:fs/promises';
import { basename, dirname, join, relative, resolve } from 'node:path';
import { looseValue } from '../../analysis/input/jsonc.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { byName, inOrder, recordedIn as recordedInValue } from '../../analysis/take/order.ts';
import { readEarlier } from './report-file.ts';
import { asProblem, codeOf } from './fault.ts';
import { asText, isInside, pathWithin, readBytes, readInside } from './read.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';

const descriptionName = 'machine.jsonc';

export interface MachineFolder {
  /** Real path. */
  readonly root: string;
  /** As the person knows it. */
  readonly shown: string;
  readonly machine: Machine;
  /** machine.jsonc as it was read, to tell later whether someone changed it. */
  readonly descriptionBytes: Uint8Array;
  /** When the pattern was last changed, ms since 1970. */
  readonly patternMs: number;
}

export interface TakeFolder {
  readonly name: string;
  /** Real path. */
  readonly folder: string;
  readonly shown: string;
}

/** A take with what its last analysis left. */
export interface AnalysedTake extends TakeFolder {
  readonly report: EarlierReport | null;
  /** ISO 8601: as take.jsonc says, else as report.json has it from the first analysis; null where neither says. */
  readonly recorded: string | null;
  /** Why its take.jsonc or report.json cannot be used; then there is no report. */
  readonly fault: InputProblem | null;
}

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
    if (await isFile(join(root, descriptionName))) {
      const isTake = root !== folder && relative(root, folder) !== 'takes';
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
 * @throws InputProblem where either cannot be used
 */
export async function readMachineFolder(root: string, shown: string): Promise<MachineFolder> {
  const file = join(shown, descriptionName);
  const path = await pathWithin(root, root, descriptionName, file);
  const descriptionBytes = await readBytes(path, file);
  let patternMs = -Infinity;
  const machine = await readMachine(file, asText(descriptionBytes, file), async (name) => {
    const shownPattern = join(shown, name);
    await stat(join(root, name)); // the core says best what a missing pattern means
    const pattern = await pathWithin(root, root, name, shownPattern);
    const bytes = await readBytes(pattern, shownPattern);
    patternMs = Math.max(patternMs, (await stat(pattern)).mtimeMs);
    return bytes;
  });
  return { root, shown, machine, descriptionBytes, patternMs };
}

/**
 * The takes in takes/, oldest first: by when they were recorded, then by name. One of which nobody knows when it was
 * recorded comes before those of which it is known.
 *
 * A take that cannot be read comes with its fault: one broken file must not cost the person the others.
 *
 * @throws InputProblem where takes/ or a link in it cannot be used
 */
export async function listTakes(root: string, shown: string): Promise<AnalysedTake[]> {
  const takes: AnalysedTake[] = [];
  for (const take of await takeFolders(root, shown)) takes.push(await readAnalysed(root, take));
  return takes.sort(inOrder);
}

async function readAnalysed(root: string, take: TakeFolder): Promise<AnalysedTake> {
  try {
    const recorded = await recordedIn(root, take);
    const report = await readEarlier(root, take.folder, take.shown);
    return { ...take, report, recorded: recorded ?? report?.recorded ?? null, fault: null };
  } catch (error) {
    if (!(error instanceof InputProblem)) throw error;
    const recorded = await recordedIn(root, take).catch(() => null);
    return { ...take, report: null, recorded, fault: error };
  }
}

/** The folders in takes/, by name. */
export async function takeFolders(root: string, shown: string): Promise<TakeFolder[]> {
  const parent = join(root, 'takes');
  let entries;
  try {
    entries = await readdir(parent, { withFileTypes: true });
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return [];
    throw asProblem(error, join(shown, 'takes'), 'read');
  }
  const takes: TakeFolder[] = [];
  for (const { name } of entries.filter((entry) => entry.isDirectory() || entry.isSymbolicLink())) {
    if (name.startsWith('.')) continue;
    const shownTake = join(shown, 'takes', name);
    const folder = await pathWithin(root, parent, name, shownTake);
    if ((await stat(folder)).isDirectory()) takes.push({ name, folder, shown: shownTake });
  }
  return takes.sort((a, b) => byName(a.name, b.name));
}

/** Only the date, for the order; readTake reads and checks the whole file when the take is analysed. */
async function recordedIn(root: string, { folder, shown }: TakeFolder): Promise<string | null> {
  const file = join(shown, 'take.jsonc');
  const bytes = await readInside(root, join(folder, 'take.jsonc'), file);
  if (bytes === null) return null;
  return recordedInValue(looseValue(asText(bytes, file)));
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
    if (await isFile(join(above, descriptionName))) {
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
