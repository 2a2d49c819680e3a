/** A folder that appears whole or not at all: it is filled under a temporary name and renamed. */
import { copyFile, mkdir, rename, rm, stat, utimes, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { cleanLeftovers, temporaryName } from './temporary.ts';

/**
 * @param folder of a name that is free, in a folder that may not be there yet
 * @param files  copied with their times; the person named them, wherever they are
 * @param texts  by name, written beside them
 * @throws what the disk says; the folder is not there then
 */
export async function newFolder(
  folder: string,
  files: readonly string[],
  texts: Readonly<Record<string, string>>,
): Promise<void> {
  const temporary = join(dirname(folder), temporaryName());
  try {
    await mkdir(temporary, { recursive: true });
    await cleanLeftovers(dirname(folder));
    for (const file of files) {
      const target = join(temporary, basename(file));
      await copyFile(file, target);
      const { atime, mtime } = await stat(file);
      await utimes(target, atime, mtime);
    }
    for (const [name, text] of Object.entries(texts)) await writeFile(join(temporary, name), text);
    await rename(temporary, folder);
  } catch (error) {
    await rm(temporary, { recursive: true, force: true });
    throw error;
  }
}
