/** Names of files that are being written, and how those of a killed run are recognised and cleaned away. */
import { randomUUID } from 'node:crypto';
import { lstat, readdir, rm } from 'node:fs/promises';
import { hostname } from 'node:os';
import { join } from 'node:path';
import { isAlive } from './alive.ts';

/** No write takes this long; a temporary file as old as this was left by a run that is gone. */
const leftoverAfterMs = 3_600_000;

/** A name carries the computer and the process that writes, so that another can tell whether it still runs. */
const pattern = /^\.shimwright-([A-Za-z0-9_]+)-(\d+)-[0-9a-f]+\.tmp$/;

const thisHost = hostname().replace(/[^A-Za-z0-9]/g, '_') || 'host';

/** A name for a file in the making, unlike any other. */
export function temporaryName(): string {
  return `.shimwright-${thisHost}-${process.pid}-${randomUUID().replaceAll('-', '')}.tmp`;
}

/** true for a name that temporaryName gives, on this computer or another. */
export function isTemporary(name: string): boolean {
  return pattern.test(name);
}

/** Removes what killed runs left in a folder. What cannot be removed is left: it harms nobody. */
export async function cleanLeftovers(folder: string): Promise<void> {
  const names = await readdir(folder).catch(() => []);
  for (const name of names) {
    const match = pattern.exec(name);
    if (match === null) continue;
    const path = join(folder, name);
    const dead = match[1] === thisHost && !isAlive(Number(match[2]));
    const found = await lstat(path).catch(() => null);
    if (dead || (found !== null && Date.now() - found.mtimeMs > leftoverAfterMs))
      await rm(path, { force: true, recursive: true }).catch(() => undefined);
  }
}
