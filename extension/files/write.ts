/**
 * Writing so that nothing is ever half-written or lost: each file is written whole under a temporary name in the
 * same folder, forced to the disk, and renamed over the old one. All files of one result are made ready before the
 * first is renamed, and what others changed meanwhile is not overwritten.
 */
import { constants } from 'node:fs';
import { access, link, lstat, open, realpath, rename, rm, stat } from 'node:fs/promises';
import { dirname, join, relative, sep } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { asProblem, codeOf } from './fault.ts';
import { withLock } from './lock.ts';
import { isDevice } from './plain.ts';
import { isInside, readInside, realPathWithin } from './read.ts';
import { cleanLeftovers, temporaryName } from './temporary.ts';
import { mendUnfinished, noteWhile, placeTogether, syncFolder } from './unfinished.ts';

/** One file to write. */
export interface Change {
  readonly path: string;
  readonly bytes: Uint8Array;
  /** What the file held when it was read, null where there was none: then anything else is left alone. Absent: replace whatever is there. */
  readonly before?: Uint8Array | null;
}

/** Someone changed a file since it was read. Nothing was written; read it again and decide. */
export class ChangedOnDisk extends InputProblem {}

/**
 * Writes all the files, in the order given, or none. A crash leaves each of them old or new, whole.
 *
 * @param root real path of the folder that links must not leave; its lock is held while files change places
 * @throws ChangedOnDisk where a file is not as in `before`; InputProblem where one cannot be written; the signal's
 *         reason where it aborts before the first file is renamed. Nothing has changed then.
 */
export async function writeWhole(
  root: string,
  changes: readonly Change[],
  signal?: AbortSignal,
): Promise<void> {
  const ready: Ready[] = [];
  try {
    await makeReady(root, changes, ready);
    await withLock(root, signal, async (lock) => {
      for (const { change, target } of ready) await compare(root, change, target);
      await lock.stillMine();
      signal?.throwIfAborted();
      const places = ready.map(({ change, target, temporary }) => ({
        target,
        temporary,
        bytes: change.bytes,
        place: () => putInPlace(change, target, temporary, shownIn(root, change.path)),
      }));
      if (places.length > 1) await placeTogether(root, places);
      else for (const { place } of places) await place();
    });
    for (const folder of new Set(ready.map(({ target }) => dirname(target)))) await syncFolder(folder);
  } finally {
    await removeTemporaries(ready);
  }
}

/**
 * Files that the editor saves by itself, all or none: what is meant is written down first, so that a kill between two saves
 * is put right at the next start.
 *
 * @param act saves them; false or an error where it did not save them all
 * @throws as writeWhole, before anything is saved; what `act` throws
 */
export async function saveNoted(
  root: string,
  changes: readonly Change[],
  act: () => Promise<boolean>,
): Promise<boolean> {
  const ready: Ready[] = [];
  let isNoted = false;
  try {
    await makeReady(root, changes, ready);
    return await withLock(root, undefined, async () => {
      for (const { change, target } of ready) await compare(root, change, target);
      const files = ready.map(({ change: { bytes }, ...places }) => ({ ...places, bytes }));
      return noteWhile(root, files, () => {
        isNoted = true;
        return act();
      });
    });
  } finally {
    // Once it is written down, the note says what becomes of them.
    if (!isNoted) await removeTemporaries(ready);
  }
}

/** A change whose new contents lie beside the file. */
interface Ready {
  readonly change: Change;
  readonly target: string;
  readonly temporary: string;
}

/** @param ready filled one by one, so that the caller can remove what is there after an error too */
async function makeReady(root: string, changes: readonly Change[], ready: Ready[]): Promise<void> {
  // First: what a killed run left is needed to put its files right, and would be cleaned away below.
  await mendUnfinished(root);
  for (const change of changes) {
    const target = await targetOf(root, change.path);
    await cleanLeftovers(dirname(target));
    const temporary = join(dirname(target), temporaryName());
    ready.push({ change, target, temporary });
    await writeTemporary(temporary, target, change, shownIn(root, change.path));
  }
}

async function removeTemporaries(ready: readonly Ready[]): Promise<void> {
  for (const { temporary } of ready) await rm(temporary, { force: true }).catch(() => undefined);
}

/**
 * Reads a file, makes its new contents, and writes them with others; where someone changed the file meanwhile, it is
 * read and made again.
 *
 * @param make from the bytes now (null where there is no file) to all that is to be written
 */
export async function writeRetrying(
  root: string,
  path: string,
  make: (now: Uint8Array | null) => readonly Change[],
  signal?: AbortSignal,
): Promise<void> {
  for (let attempt = 1; ; attempt++) {
    try {
      await writeWhole(root, make(await readInside(root, path, shownIn(root, path))), signal);
      return;
    } catch (error) {
      // A person types slowly and other runs are few; more than this and something else is wrong.
      if (!(error instanceof ChangedOnDisk) || error.file !== shownIn(root, path) || attempt === 50)
        throw error;
    }
  }
}

/**
 * Tells before long work that its results could not be kept.
 *
 * @throws InputProblem where the folder may not be written, or is on a read-only disk
 */
export async function checkWritable(folder: string, shown: string): Promise<void> {
  try {
    await access(folder, constants.W_OK);
  } catch (error) {
    throw asProblem(error, shown, 'written');
  }
}

/** A path as the machine's folder has it: where that folder lies, the person knows. */
function shownIn(root: string, path: string): string {
  const way = relative(root, path);
  return way === '' || way.startsWith('..') ? path : way.split(sep).join('/');
}

/** Where a path really leads: a link is kept, and what it points to is replaced. */
async function targetOf(root: string, path: string): Promise<string> {
  const shown = shownIn(root, path);
  if (isDevice(path))
    throw new InputProblem(shown, '', 'has a name that Windows keeps for a device', 'choose another name');
  try {
    const folder = await realpath(dirname(path));
    const target = join(folder, path.slice(dirname(path).length).replace(/^[/\\]/, ''));
    const found = await lstat(target).catch((error: unknown) => {
      if (codeOf(error) === 'ENOENT') return null;
      throw error;
    });
    const real = found?.isSymbolicLink() ? await realPathWithin(root, target, shown) : target;
    if (!isInside(root, real))
      throw new InputProblem(
        shown,
        '',
        'is a link that leads out of the machine’s folder',
        'put a plain file in its place',
      );
    if (found !== null) {
      if (!(await stat(real)).isFile())
        throw new InputProblem(
          shown,
          '',
          'is not a plain file',
          'move it away; the tool writes a file there',
        );
      await access(real, constants.W_OK); // a file someone made read-only stays as it is
    }
    return real;
  } catch (error) {
    throw asProblem(error, shown, 'written');
  }
}

async function writeTemporary(
  temporary: string,
  target: string,
  change: Change,
  shown: string,
): Promise<void> {
  try {
    const handle = await open(temporary, 'wx');
    try {
      const old = await stat(target).catch(() => null);
      if (old !== null) {
        await handle.chmod(old.mode & 0o7777);
        if (process.getuid?.() === 0) await handle.chown(old.uid, old.gid);
      }
      await handle.writeFile(change.bytes);
      await handle.sync();
    } finally {
      await handle.close();
    }
  } catch (error) {
    throw asProblem(error, shown, 'written');
  }
}

async function compare(root: string, change: Change, target: string): Promise<void> {
  if (change.before === undefined) return;
  const now = await readInside(root, target, shownIn(root, change.path));
  const same =
    now === null || change.before === null ? now === change.before : Buffer.compare(now, change.before) === 0;
  if (!same) throw changed(shownIn(root, change.path));
}

async function putInPlace(change: Change, target: string, temporary: string, shown: string): Promise<void> {
  try {
    if (change.before === null && (await linkInPlace(target, temporary))) return;
    await rename(temporary, target);
  } catch (error) {
    if (codeOf(error) === 'EEXIST') throw changed(shown);
    throw asProblem(error, shown, 'written');
  }
}

/** A new file is linked into place, which fails where someone has just made one; false on disks without links. */
async function linkInPlace(target: string, temporary: string): Promise<boolean> {
  try {
    await link(temporary, target);
    return true;
  } catch (error) {
    if (codeOf(error) === 'EEXIST') throw error;
    return false;
  }
}

const changed = (path: string) =>
  new ChangedOnDisk(
    path,
    '',
    'was changed by someone else since it was read, and is left as it is',
    'look at the change, then run the command again',
  );
