/** What is loaded after activation where the editor runs on Node: the same as elsewhere, with the disk's own door. */
import { join, relative, sep } from 'node:path';
import { showAtRevision } from '../files/git.ts';
import { openPlain } from '../files/plain.ts';
import { readInside, realPathIfThere, realRoot } from '../files/read.ts';
import { mendedWords, mendUnfinished } from '../files/unfinished.ts';
import { saveNoted, writeWhole } from '../files/write.ts';
import { useDisk } from './disk.ts';

export { openHost } from './later.ts';

/** The folder may be opened through a link; what is below it is then looked at from where it really lies. */
async function place(given: string, path: string) {
  const root = await realRoot(given);
  const way = relative(given, path);
  return { root, path: join(root, way), shown: way.split(sep).join('/') };
}

function placed<T extends { path: string }>(root: string, given: string, changes: readonly T[]): T[] {
  return changes.map((change) => ({ ...change, path: join(root, relative(given, change.path)) }));
}

useDisk({
  async read(given, file) {
    const { root, path, shown } = await place(given, file);
    return readInside(root, path, shown);
  },
  async write(given, changes) {
    const root = await realRoot(given);
    await writeWhole(root, placed(root, given, changes));
  },
  async saveNoted(given, changes, act) {
    const root = await realRoot(given);
    return saveNoted(root, placed(root, given, changes), act);
  },
  async mend(given) {
    const mended = await mendUnfinished(await realRoot(given));
    return mended && mendedWords(mended);
  },
  committed: (folder, commit, name) => showAtRevision(`${commit}:./${name}`, undefined, folder),
  async check(given, file) {
    const { root, path, shown } = await place(given, file);
    const real = await realPathIfThere(root, path, shown);
    if (real !== null) await (await openPlain(real, shown)).close();
  },
});
