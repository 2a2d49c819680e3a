/** How the disk's folders are reached by the reader that all hosts have in common. */
import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { FolderReader } from '../common/machine-folder.ts';
import { asProblem } from './fault.ts';
import { nameWithin, readInside, realPathIfThere } from './read.ts';

/**
 * @param root real path of the machine's folder
 * @param shown the same as the person knows it
 */
export function folderOnDisk(root: string, shown: string): FolderReader {
  const shownOf = (name: string) => join(shown, name);
  return {
    shown: shownOf,
    read: async (name) => readInside(root, nameWithin(root, root, name, shownOf(name)), shownOf(name)),
    async list(name) {
      const folder = await realPathIfThere(root, join(root, name), shownOf(name));
      if (folder === null) return [];
      const entries = await readdir(folder, { withFileTypes: true }).catch((error: unknown) => {
        throw asProblem(error, shownOf(name), 'read');
      });
      const found = entries.map(async (entry) => ({
        name: entry.name,
        isFolder: entry.isSymbolicLink() ? await endsInFolder(join(folder, entry.name)) : entry.isDirectory(),
      }));
      return Promise.all(found);
    },
  };
}

/** A link to nothing may have led to one: it is told when it is read, and not passed over. */
const endsInFolder = (link: string) =>
  stat(link).then(
    (found) => found.isDirectory(),
    () => true,
  );
