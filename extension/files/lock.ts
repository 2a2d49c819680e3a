/**
 * One writer at a time in a machine's folder: two windows and a terminal may finish at the same moment. The lock is a
 * small file that names its holder; a holder that was killed is recognised and its lock taken over.
 */
import { constants } from 'node:fs';
import { copyFile, link, readFile, rename, rm, stat, writeFile } from 'node:fs/promises';
import { randomUUID } from 'node:crypto';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { InputProblem } from '../../analysis/problem.ts';
import { isAlive } from './alive.ts';
import { asProblem, codeOf } from './fault.ts';
import { temporaryName } from './temporary.ts';

const lockName = '.shimwright.lock';

/** A lock is held for the milliseconds of a few renames; after this long its holder has stopped or is far away. */
const staleAfterMs = 120_000;

/** How long to wait for another program to finish its renames. */
const patienceMs = 10_000;

const pollMs = 20;

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
 * @throws InputProblem where another program holds it for longer than ten seconds, or the folder cannot be written
 */
export async function withLock<T>(folder: string, work: (lock: HeldLock) => Promise<T>): Promise<T> {
  const path = join(folder, lockName);
  const me: Holder = { pid: process.pid, host: hostname(), token: randomUUID() };
  await take(path, folder, me);
  const isMine = async () => (await holderOf(path))?.token === me.token;
  try {
    return await work({
      stillMine: async () => {
        if (!(await isMine())) throw lost(path);
      },
    });
  } finally {
    if (await isMine()) await rm(path, { force: true });
  }
}

async function take(path: string, folder: string, me: Holder): Promise<void> {
  const mine = join(folder, temporaryName());
  try {
    // Written first and linked into place, so that a lock is never seen half-written.
    await writeFile(mine, JSON.stringify(me), { flag: 'wx' });
    const until = Date.now() + patienceMs;
    while (!(await placed(mine, path))) {
      const holder = await holderOf(path);
      if (await isStale(path, holder)) await takeAway(path, holder);
      else if (Date.now() > until) throw busy(path, holder);
      else await pause(pollMs);
    }
  } catch (error) {
    throw asProblem(error, folder, 'written');
  } finally {
    await rm(mine, { force: true });
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

async function holderOf(path: string): Promise<Holder | null> {
  try {
    return JSON.parse(await readFile(path, 'utf8')) as Holder;
  } catch {
    return null;
  }
}

async function isStale(path: string, holder: Holder | null): Promise<boolean> {
  if (holder !== null && holder.host === hostname() && !isAlive(holder.pid)) return true;
  try {
    return Date.now() - (await stat(path)).mtimeMs > staleAfterMs;
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

const busy = (path: string, holder: Holder | null) =>
  new InputProblem(
    path,
    '',
    `another program${holder ? ` (process ${holder.pid} on ${holder.host})` : ''} is writing in this folder`,
    'try again when it has finished; delete this file if no such program runs',
  );

const lost = (path: string) =>
  new InputProblem(
    path,
    '',
    'another program took over the folder while this one was held up',
    'run the command again; nothing was written',
  );
