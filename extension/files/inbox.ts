/** An inbox on the disk: what lies in it, which of it a take holds already, and a recording that was copied let go. */
import { readdir, realpath, stat, unlink } from 'node:fs/promises';
import { join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { digestOf } from '../common/inputs.ts';
import type { InboxFile } from '../common/inbox.ts';
import { machineFile } from '../common/machine-folder.ts';
import { nodeSha256 } from './digests.ts';
import { asProblem } from './fault.ts';
import { takeFolders } from './machine-folder.ts';
import { openNamed } from './read.ts';

/** Recorders sort their files into folders, no deeper than this. */
const deepest = 4;

/**
 * The plain files in a folder and those below it; machines' folders and hidden ones are passed over.
 *
 * @throws InputProblem where the folder itself cannot be listed
 */
export async function filesInInbox(folder: string): Promise<InboxFile[]> {
  const files: InboxFile[] = [];
  const walk = async (below: string, depth: number): Promise<void> => {
    const path = join(folder, below);
    const entries = await readdir(path, { withFileTypes: true }).catch((error: unknown) => {
      if (depth === 0) throw asProblem(error, folder, 'read');
      return []; // a folder that went while it was looked at
    });
    if (entries.some(({ name }) => name === machineFile)) return;
    for (const entry of entries) {
      const name = below === '' ? entry.name : `${below}/${entry.name}`;
      if (entry.name.startsWith('.')) continue;
      if (entry.isDirectory() && depth < deepest) await walk(name, depth + 1);
      const found = entry.isFile() ? await stat(join(folder, name)).catch(() => null) : null;
      if (found !== null) files.push({ name, sizeBytes: found.size, modifiedMs: found.mtimeMs });
    }
  };
  await walk('', 0);
  return files.sort((a, b) => (a.name < b.name ? -1 : 1));
}

/** Where a take of these machines already holds a file's very bytes, as the person knows the take; null where none does. */
export async function takeHolding(
  machines: readonly { readonly root: string; readonly shown: string }[],
  file: string,
): Promise<string | null> {
  const { size } = await stat(file).catch((error: unknown) => {
    throw asProblem(error, file, 'read');
  });
  let own: string | undefined;
  for (const { root, shown } of machines)
    for (const take of await takeFolders(root, shown)) {
      const names = await readdir(take.folder).catch(() => []);
      for (const name of names) {
        const path = join(take.folder, name);
        const found = await stat(path).catch(() => null);
        if (found === null || !found.isFile() || found.size !== size) continue;
        own ??= await digestOfFile(file);
        if ((await digestOfFile(path)) === own) return take.shown;
      }
    }
  return null;
}

/**
 * Removes a recording of which a take has a copy, once the copy is found to be the same.
 *
 * @throws InputProblem where it is not, or the recording cannot be removed: it is left then
 */
export async function removeCopied(file: string, copy: string): Promise<void> {
  const isSame =
    (await realpath(file)) !== (await realpath(copy)) &&
    (await digestOfFile(file)) === (await digestOfFile(copy));
  if (!isSame)
    throw new InputProblem(
      file,
      '',
      `is not what its copy ${copy} holds`,
      'it was left where it is; compare them',
    );
  await unlink(file).catch((error: unknown) => {
    throw asProblem(error, file, 'removed');
  });
}

async function digestOfFile(path: string): Promise<string> {
  const { file, close } = await openNamed(path);
  try {
    return await digestOf({ source: file, kind: 'audio' }, nodeSha256);
  } finally {
    await close();
  }
}
