/** Reading: whole small files, and large ones in parts. */
import { reportFileNames } from '../../analysis/results/files.ts';
import { lstat, readdir, realpath, stat } from 'node:fs/promises';
import type { FileHandle } from 'node:fs/promises';
import { basename, dirname, join, relative, isAbsolute, sep } from 'node:path';
import type { SourceFile } from '../../analysis/ports.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { asProblem, codeOf } from './fault.ts';
import { openPlain } from './plain.ts';

/** No description, pattern or report that people keep comes near this; a file that does is not one of them. */
export const largestTextBytes = 256 * 1024 * 1024;

/** What one read call may ask of Node, which counts in 32 bits. */
const largestReadBytes = 1 << 30;

/** Files that the tool writes into a take; they are never its inputs. */
const ownFiles = new Set<string>(reportFileNames);

/**
 * Bytes of a file in the machine's folder, whoever put it there: the one door for what is read whole.
 *
 * @param root  real path of the machine's folder
 * @param shown the path as the person knows it, for messages
 * @returns null where there is no such file
 * @throws InputProblem where it is a link out of the folder or to nothing, is not a plain file, or is too large to be text
 */
export async function readInside(root: string, path: string, shown: string): Promise<Uint8Array | null> {
  const real = await realPathIfThere(root, path, shown);
  return real === null ? null : readBytes(real, shown);
}

/** As realPathWithin; null where there is nothing of that name, in a folder that is inside as far as it is there. */
export async function realPathIfThere(root: string, path: string, shown: string): Promise<string | null> {
  try {
    await lstat(path);
  } catch (error) {
    if (codeOf(error) !== 'ENOENT') throw asProblem(error, shown, 'read');
    const folder = dirname(path);
    if (folder !== path && isInside(root, folder)) await realPathIfThere(root, folder, shown);
    return null;
  }
  return realPathWithin(root, path, shown);
}

/**
 * Bytes of a file that the person named, wherever it is and whatever links lead there.
 *
 * @throws InputProblem where it is not there, is not a plain file, or is too large to be text
 */
export async function readNamed(path: string): Promise<Uint8Array> {
  try {
    return await readBytes(await realpath(path), path);
  } catch (error) {
    throw asProblem(error, path, 'read');
  }
}

/**
 * @param path real path, as pathWithin gives it
 * @throws InputProblem where it cannot be read, is not a plain file, or is too large to be text
 */
export async function readBytes(path: string, shown = path): Promise<Uint8Array> {
  const handle = await openPlain(path, shown);
  try {
    const { size } = await handle.stat();
    if (size > largestTextBytes)
      throw new InputProblem(
        shown,
        '',
        `is ${size} bytes long, and ${largestTextBytes} is the most that is read as text`,
        'check that it is the right file',
      );
    return new Uint8Array(await handle.readFile());
  } catch (error) {
    throw asProblem(error, shown, 'read');
  } finally {
    await handle.close();
  }
}

/** true where `path` is `root` or lies below it; both are real paths. */
export function isInside(root: string, path: string): boolean {
  const way = relative(root, path);
  return way === '' || (way !== '..' && !way.startsWith(`..${sep}`) && !isAbsolute(way));
}

/** Real path of a machine's folder, which may itself have been opened through a link. */
export async function realRoot(path: string): Promise<string> {
  try {
    return await realpath(path);
  } catch (error) {
    throw asProblem(error, path, 'read');
  }
}

/**
 * The real path of what `name` says, seen from `folder`.
 *
 * @throws InputProblem where that is outside `root`: takes come from strangers, and must not reach other files
 */
export async function pathWithin(root: string, folder: string, name: string, shown: string): Promise<string> {
  return realPathWithin(root, nameWithin(root, folder, name, shown), shown);
}

/** The same by the name alone, whatever is there and wherever links lead. @throws InputProblem as pathWithin */
export function nameWithin(root: string, folder: string, name: string, shown: string): string {
  const path = join(folder, name);
  if (!isAbsolute(name) && isInside(root, path)) return path;
  throw new InputProblem(
    shown,
    '',
    `"${name}" leads out of the machine’s folder`,
    'copy the file into it and name it there',
  );
}

/** @throws InputProblem where a link on the way leads out of `root`, or to nothing */
export async function realPathWithin(root: string, path: string, shown: string): Promise<string> {
  let real;
  try {
    real = await realpath(path);
  } catch (error) {
    if (codeOf(error) === 'ENOENT' && (await isLink(path)))
      throw new InputProblem(
        shown,
        '',
        'is a link to something that is not there',
        'remove the link, or put back what it leads to',
      );
    throw asProblem(error, shown, 'read');
  }
  if (!isInside(root, real))
    throw new InputProblem(
      shown,
      '',
      'is a link that leads out of the machine’s folder',
      'copy the file into it instead',
    );
  return real;
}

const isLink = (path: string) =>
  lstat(path).then(
    (found) => found.isSymbolicLink(),
    () => false,
  );

/** Size and times of a file: another value means that it may hold something else. */
export interface Stamp {
  readonly sizeBytes: number;
  readonly mtimeMs: number;
  /** A file copied with its times kept has another one. */
  readonly ctimeMs: number;
}

/** A take's files, opened when they are first read and closed together. */
export interface OpenSources {
  /** By name; the tool's own files and hidden ones left out. */
  readonly files: readonly SourceFile[];
  /** Size and times of each, by name. */
  readonly stamps: ReadonlyMap<string, Stamp>;
  /** Name, size and time of each: another value later means that someone changed a file. */
  readonly fingerprint: string;
  close(): Promise<void>;
}

/**
 * @param root real path of the machine's folder
 * @param folder real path of the take's folder
 * @throws InputProblem where the folder cannot be listed, or a link in it leads out of the machine's folder
 */
export async function openSources(root: string, folder: string, shown: string): Promise<OpenSources> {
  const handles: Promise<FileHandle>[] = [];
  const files: SourceFile[] = [];
  const prints: string[] = [];
  const stamps = new Map<string, Stamp>();
  let entries;
  try {
    entries = await readdir(folder, { withFileTypes: true });
  } catch (error) {
    throw asProblem(error, shown, 'read');
  }
  for (const { name } of entries
    .filter((entry) => entry.isFile() || entry.isSymbolicLink())
    .filter((entry) => !entry.name.startsWith('.') && !ownFiles.has(entry.name))
    .sort((a, b) => (a.name < b.name ? -1 : 1))) {
    const shownFile = join(shown, name);
    const path = await pathWithin(root, folder, name, shownFile);
    const found = await stat(path);
    if (!found.isFile()) continue;
    stamps.set(name, { sizeBytes: found.size, mtimeMs: found.mtimeMs, ctimeMs: found.ctimeMs });
    prints.push(`${name} ${found.size} ${found.mtimeMs}`);
    let handle: Promise<FileHandle> | undefined;
    const opened = () => {
      if (handle === undefined) handles.push((handle = openPlain(path, shownFile)));
      return handle;
    };
    files.push(sourceFile(name, shownFile, found.size, opened));
  }
  return {
    files,
    stamps,
    fingerprint: prints.join('\n'),
    close: async () => {
      for (const outcome of await Promise.allSettled(handles))
        if (outcome.status === 'fulfilled') await outcome.value.close();
    },
  };
}

/**
 * One file that the person named, wherever it is, to be read in parts.
 *
 * @throws InputProblem where it is not there or is no plain file
 */
export async function openNamed(path: string): Promise<{ file: SourceFile; close: () => Promise<void> }> {
  const handle = await openPlain(
    await realpath(path).catch((error: unknown) => {
      throw asProblem(error, path, 'read');
    }),
    path,
  );
  const { size } = await handle.stat();
  return {
    file: sourceFile(basename(path), path, size, () => Promise.resolve(handle)),
    close: () => handle.close(),
  };
}

function sourceFile(
  name: string,
  shown: string,
  sizeBytes: number,
  opened: () => Promise<FileHandle>,
): SourceFile {
  return {
    name,
    sizeBytes,
    read: async (start = 0, end = sizeBytes) => {
      const from = Math.max(0, start);
      const wanted = Math.max(0, Math.min(end, sizeBytes) - from);
      const bytes = new Uint8Array(wanted);
      let got = 0;
      try {
        const handle = await opened();
        while (got < wanted) {
          const size = Math.min(wanted - got, largestReadBytes);
          const { bytesRead } = await handle.read(bytes, got, size, from + got);
          if (bytesRead === 0) break; // the file has become shorter since it was listed
          got += bytesRead;
        }
      } catch (error) {
        throw asProblem(error, shown, 'read');
      }
      return got === wanted ? bytes : bytes.subarray(0, got);
    },
  };
}
