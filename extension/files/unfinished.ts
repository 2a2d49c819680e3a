/**
 * Several files that belong together, changed all or none. Before the first takes its place, what is meant is written
 * down beside them (a write-ahead log); a run that is killed between two renames leaves that note, and the next start
 * carries the change through, or where it cannot, takes it back.
 */
import { asText } from '../common/utf8.ts';
import { createHash } from 'node:crypto';
import { copyFile, link, open, rename, rm } from 'node:fs/promises';
import { basename, dirname, join, relative } from 'node:path';
import { z } from 'zod';
import { InputProblem } from '../../analysis/input/problem.ts';
import { asProblem, codeOf } from './fault.ts';
import { withLock } from './lock.ts';
import { readInside } from './read.ts';
import { isTemporary, temporaryName } from './temporary.ts';

/** In the machine's folder, while files change places. */
const noteName = '.shimwright-unfinished.json';

const sha256 = z.string().regex(/^[0-9a-f]{64}$/);
const noteSchema = z.strictObject({
  schema: z.literal(1),
  files: z
    .array(
      z.strictObject({
        path: z.string().describe('From the machine’s folder, with "/"'),
        /** The new contents, beside the file. */
        temporary: z.string().refine(isTemporary),
        /** The old file under another name; null where there was none. */
        kept: z.string().refine(isTemporary).nullable(),
        before: sha256.nullable(),
        after: sha256,
      }),
    )
    .min(1),
});
type Note = z.output<typeof noteSchema>;

/** A file ready to take its place. */
export interface Ready {
  /** Real path. */
  readonly target: string;
  /** Its new contents, written and synced, in the same folder. */
  readonly temporary: string;
  readonly bytes: Uint8Array;
  /** Puts it in place. */
  place(): Promise<void>;
}

/**
 * Puts files in their places, all or none. The folder's lock is held by the caller.
 *
 * @throws what `place` throws; every file is then as it was, or where even that failed, is put right at the next start
 */
export async function placeTogether(root: string, files: readonly Ready[]): Promise<void> {
  const rows = await noteDown(root, files, keep);
  try {
    for (const file of files) await file.place();
    for (const folder of new Set(files.map(({ target }) => dirname(target)))) await syncFolder(folder);
  } catch (error) {
    await takeBack(root, rows).catch(() => {
      throw leftInPart(error, files);
    });
    await forget(root, rows);
    throw error;
  }
  // From here on all is done: what cannot be removed now is removed at the next start.
  await forget(root, rows);
}

/**
 * The same for files that another program puts in place: the editor saves what is open in it by itself, and may write into
 * the old file.
 *
 * @param act saves the files; false or an error where it did not save them all
 * @returns what `act` does; where it left some old and some new, that is put right at the next start
 */
export async function noteWhile(
  root: string,
  files: readonly Omit<Ready, 'place'>[],
  act: () => Promise<boolean>,
): Promise<boolean> {
  // A copy: a second name would change with the old file.
  const rows = await noteDown(root, files, copyFile);
  let isDone = false;
  try {
    return (isDone = await act());
  } finally {
    const now = await Promise.all(rows.map(({ path }) => digestAt(root, path)));
    if (isDone || rows.every(({ before }, i) => now[i] === before)) {
      await forget(root, rows);
      for (const { temporary } of files) await rm(temporary, { force: true }).catch(() => undefined);
    }
  }
}

/** Writes down what is meant, with the old files kept. @throws InputProblem; nothing is left then */
async function noteDown(
  root: string,
  files: readonly Omit<Ready, 'place'>[],
  keepAs: (target: string, kept: string) => Promise<void>,
): Promise<Note['files']> {
  const rows: Note['files'] = [];
  const note = join(root, noteName);
  try {
    for (const { target, temporary, bytes } of files) {
      const old = await readInside(root, target, target);
      const kept = old === null ? null : temporaryName();
      if (kept !== null) await keepAs(target, join(dirname(target), kept));
      rows.push({
        path: relative(root, target).replaceAll('\\', '/'),
        temporary: basename(temporary),
        kept,
        before: old === null ? null : digest(old),
        after: digest(bytes),
      });
    }
    await writeNote(root, note, { schema: 1, files: rows });
    return rows;
  } catch (error) {
    await forget(root, rows);
    throw asProblem(error, files[0].target, 'written');
  }
}

/** What the next start found of a run that was cut short, for the person; `done`: all its files are as it meant. */
export interface Mended {
  readonly files: readonly string[];
  readonly outcome: 'done' | 'undone' | 'left';
}

/**
 * Carries through, or takes back, what a run that was killed left unfinished.
 *
 * @returns null where there was nothing
 * @throws InputProblem where the folder cannot be written
 */
export async function mendUnfinished(root: string): Promise<Mended | null> {
  if ((await noteAt(root)) === null) return null;
  return withLock(root, undefined, async () => {
    const note = await noteAt(root);
    if (note === null) return null; // another program was quicker
    const outcome = await mend(root, note);
    await rm(join(root, noteName), { force: true }).catch((error: unknown) => {
      throw asProblem(error, noteName, 'written');
    });
    await removeKept(root, note.files);
    for (const { path, temporary } of note.files)
      await rm(join(root, dirname(path), temporary), { force: true }).catch(() => undefined);
    return { files: note.files.map(({ path }) => path), outcome };
  });
}

/** One line for the person. */
export function mendedWords({ files, outcome }: Mended): string {
  const names = files.filter((name) => !name.startsWith('takes/')).join(' and ') || files[0];
  switch (outcome) {
    case 'done':
      return `${names}: a run was cut short while it wrote them; what it had to write is written now`;
    case 'undone':
      return `${names}: a run was cut short while it wrote them; they are as they were before it, so record its work again`;
    case 'left':
      return `${names}: a run was cut short while it wrote them, and they were changed since; compare what they say is fitted`;
  }
}

async function mend(root: string, { files }: Note): Promise<Mended['outcome']> {
  const states = await Promise.all(
    files.map(async ({ path, temporary, before, after }) => {
      const [now, ready] = await Promise.all(
        [path, `${dirname(path)}/${temporary}`].map((each) => bytesAt(root, each)),
      );
      const isReady = ready !== null && digest(ready) === after;
      const isOld = (now && digest(now)) === before || (isReady && isTorn(now, ready));
      return { isDone: now !== null && digest(now) === after, isOld, isReady };
    }),
  );
  if (states.every(({ isDone, isOld, isReady }) => isDone || (isOld && isReady))) {
    for (const [i, { path, temporary }] of files.entries())
      if (!states[i].isDone) await rename(join(root, dirname(path), temporary), join(root, path));
    for (const folder of new Set(files.map(({ path }) => dirname(path))))
      await syncFolder(join(root, folder));
    return 'done';
  }
  await takeBack(root, files);
  const now = await Promise.all(files.map(({ path }) => digestAt(root, path)));
  return files.every(({ before }, i) => now[i] === before) ? 'undone' : 'left';
}

/** Puts the old files back where the new ones stand; what somebody else wrote meanwhile stays. */
async function takeBack(root: string, rows: Note['files']): Promise<void> {
  for (const { path, kept, before, after } of rows.toReversed()) {
    if ((await digestAt(root, path)) !== after || before === after) continue;
    const target = join(root, path);
    if (kept === null) await rm(target);
    else if ((await digestAt(root, `${dirname(path)}/${kept}`)) === before)
      await rename(join(dirname(target), kept), target);
  }
  for (const folder of new Set(rows.map(({ path }) => dirname(path)))) await syncFolder(join(root, folder));
}

/** The old file under a second name: putting it back then needs no room on the disk. */
async function keep(target: string, kept: string): Promise<void> {
  try {
    await link(target, kept);
  } catch (error) {
    if (!['EPERM', 'ENOTSUP', 'EOPNOTSUPP', 'ENOSYS', 'EMLINK'].includes(codeOf(error))) throw error;
    await copyFile(target, kept); // disks without links
  }
}

/** The note and the old files that it names; what cannot be removed now is removed at the next start. */
async function forget(root: string, rows: Note['files']): Promise<void> {
  await rm(join(root, noteName), { force: true }).catch(() => undefined);
  await removeKept(root, rows);
}

async function removeKept(root: string, rows: Note['files']): Promise<void> {
  for (const { path, kept } of rows)
    if (kept !== null) await rm(join(root, dirname(path), kept), { force: true }).catch(() => undefined);
}

async function writeNote(root: string, path: string, note: Note): Promise<void> {
  const temporary = join(root, temporaryName());
  try {
    const handle = await open(temporary, 'wx');
    try {
      await handle.writeFile(JSON.stringify(note));
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(temporary, path);
  } finally {
    await rm(temporary, { force: true }).catch(() => undefined);
  }
  await syncFolder(root);
}

/** null where there is none, or where what stands there is no note of ours. */
async function noteAt(root: string): Promise<Note | null> {
  try {
    const bytes = await readInside(root, join(root, noteName), noteName);
    return bytes && noteSchema.parse(JSON.parse(asText(bytes, noteName)));
  } catch {
    return null;
  }
}

/** Whether a program that writes into the old file was killed while it did. */
function isTorn(now: Uint8Array | null, whole: Uint8Array): boolean {
  return now !== null && now.length < whole.length && digest(now) === digest(whole.subarray(0, now.length));
}

/** null where there is no such file within the machine's folder. */
async function bytesAt(root: string, path: string): Promise<Uint8Array | null> {
  return readInside(root, join(root, path), path).catch(() => null);
}

async function digestAt(root: string, path: string): Promise<string | null> {
  const bytes = await bytesAt(root, path);
  return bytes && digest(bytes);
}

const digest = (bytes: Uint8Array) => createHash('sha256').update(bytes).digest('hex');

function leftInPart(cause: unknown, files: readonly Ready[]): InputProblem {
  const what = cause instanceof InputProblem ? cause.what : String(cause);
  return new InputProblem(
    files[0].target,
    '',
    `${what}; some of the files that belong together are written`,
    'run any command once the disk works again: it puts them right, and says so',
  );
}

/** Makes the renames last through a power cut; not every system lets a folder be synced. */
export async function syncFolder(folder: string): Promise<void> {
  const handle = await open(folder, 'r').catch(() => null);
  await handle?.sync().catch(() => undefined);
  await handle?.close();
}
