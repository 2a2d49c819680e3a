/**
 * One writer at a time in a machine's folder: two windows and a terminal may finish at the same moment. The lock is a
 * small file that names its holder; a holder that was killed is recognised and its lock taken over.
 */
import { constants } from 'node:fs';
import { copyFile, link, lstat, rename, rm, writeFile } from 'node:fs/promises';
import { randomUUID } from 'node:crypto';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { InputProblem } from '../../analysis/input/problem.ts';
import { isAlive } from './alive.ts';
import { asProblem, codeOf } from './fault.ts';
import { openPlain } from './plain.ts';
import { temporaryName } from './temporary.ts';

const lockName = '.shimwright.lock';

/** A lock is held for the milliseconds of a few renames; after this long its holder has stopped or is far away. */
const staleAfterMs = 120_000;

/** How long to wait for another program to finish its renames. */
const patienceMs = 10_000;

const pollMs = 20;

/** A lock is of a hundred bytes; what is longer is none. */
const largestLockBytes = 4096;

interface Holder {
  readonly pid: number;
  readonly host: string;
  readonly token: string;
}

/** @throws InputProblem from `stillMine` where the lock was lost to another program meanwhile */
export interface HeldLock {
  stillMine(): Promise<void>;
}

/**
 * Runs `work` while no other program holds the folder's lock.
 *
 * @throws InputProblem where another program holds it for longer than ten seconds, the folder cannot be written, or
 *         something that is no lock stands in its place; the signal's reason where it aborts while it waits
 */
export async function withLock<T>(
  folder: string,
  signal: AbortSignal | undefined,
  work: (lock: HeldLock) => Promise<T>,
): Promise<T> {
  const path = join(folder, lockName);
  const me: Holder = { pid: process.pid, host: hostname(), token: randomUUID() };
  await take(path, folder, me, signal);
  const isMine = async () => (await holderOf(path))?.token === me.token;
  try {
    return await work({
      stillMine: async () => {
        if (!(await isMine())) throw lost();
      },
    });
  } finally {
    // The work is done or undone by now; a lock that cannot be removed is told by its process or its age.
    if (await isMine().catch(() => false)) await rm(path, { force: true }).catch(() => undefined);
  }
}

async function take(path: string, folder: string, me: Holder, signal?: AbortSignal): Promise<void> {
  const mine = join(folder, temporaryName());
  try {
    // Written first and linked into place, so that a lock is never seen half-written.
    await writeFile(mine, JSON.stringify(me), { flag: 'wx' });
    const until = Date.now() + patienceMs;
    while (!(await placed(mine, path))) {
      signal?.throwIfAborted();
      const holder = await holderOf(path);
      if (await isStale(path, holder)) await takeAway(path, holder);
      else if (Date.now() > until) throw busy(holder);
      else await pause(pollMs);
    }
  } catch (error) {
    throw asProblem(error, folder, 'written');
  } finally {
    await rm(mine, { force: true }).catch(() => undefined);
  }
}

async function placed(mine: string, path: string): Promise<boolean> {
  try {
    await link(mine, path);
    return true;
  } catch (error) {
    if (codeOf(error) === 'EEXIST') return false;
    // Disks without hard links (memory cards, some shares).
    if (!['EPERM', 'ENOTSUP', 'EOPNOTSUPP', 'ENOSYS', 'EMLINK'].includes(codeOf(error))) throw error;
  }
  try {
    await copyFile(mine, path, constants.COPYFILE_EXCL);
    return true;
  } catch (error) {
    if (codeOf(error) === 'EEXIST') return false;
    throw error;
  }
}

/**
 * null where there is no lock, or one that says nothing of its holder.
 *
 * @throws InputProblem where it is a link, a pipe or a device: such a thing was put there by somebody, and is not opened
 */
async function holderOf(path: string): Promise<Holder | null> {
  const found = await lstat(path).catch(() => null);
  if (found === null) return null;
  if (!found.isFile()) throw noLock();
  const handle = await openPlain(path, path).catch(() => null);
  if (handle === null) return null; // gone meanwhile, or not to be read
  try {
    const { buffer, bytesRead } = await handle.read(new Uint8Array(largestLockBytes), 0, largestLockBytes, 0);
    const value: unknown = JSON.parse(new TextDecoder().decode(buffer.subarray(0, bytesRead)));
    const { pid, host, token } = (value ?? {}) as Partial<Holder>;
    return typeof pid === 'number' && typeof host === 'string' && typeof token === 'string'
      ? { pid, host, token }
      : null;
  } catch {
    return null;
  } finally {
    await handle.close();
  }
}

async function isStale(path: string, holder: Holder | null): Promise<boolean> {
  if (holder !== null && holder.host === hostname() && !isAlive(holder.pid)) return true;
  try {
    return Date.now() - (await lstat(path)).mtimeMs > staleAfterMs;
  } catch {
    return false; // gone already: try again
  }
}

/** Moves a dead holder's lock aside; one that has meanwhile become another program's is put back. */
async function takeAway(path: string, dead: Holder | null): Promise<void> {
  const aside = join(path, '..', temporaryName());
  try {
    await rename(path, aside);
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return;
    throw error;
  }
  const moved = await holderOf(aside);
  if (moved !== null && moved.token !== dead?.token) await placed(aside, path);
  await rm(aside, { force: true });
}

const noLock = () =>
  new InputProblem(
    lockName,
    '',
    'is no plain file, where this tool keeps its lock',
    'find out who put it there, and delete it',
  );

const busy = (holder: Holder | null) =>
  new InputProblem(
    lockName,
    '',
    `another program${holder ? ` (process ${holder.pid} on ${holder.host})` : ''} is writing in this folder`,
    'try again when it has finished; delete this file if no such program runs',
  );

const lost = () =>
  new InputProblem(
    lockName,
    '',
    'another program took over the folder while this one was held up',
    'run the command again; nothing was written',
  );
