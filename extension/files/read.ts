/** Reading: whole small files, and large ones in parts. */
import { open, readdir, realpath, stat } from 'node:fs/promises';
import type { FileHandle } from 'node:fs/promises';
import { join, relative, isAbsolute, sep } from 'node:path';
import type { SourceFile } from '../../analysis/ports.ts';
import { InputProblem } from '../../analysis/problem.ts';
import { asProblem, codeOf } from './fault.ts';

/** No description, pattern or report that people keep comes near this; a file that does is not one of them. */
export const largestTextBytes = 256 * 1024 * 1024;

/** What one read call may ask of Node, which counts in 32 bits. */
const largestReadBytes = 1 << 30;

/** Files that the tool writes into a take; they are never its inputs. */
const ownFiles = new Set(['report.json', 'report.md', 'report.svg', 'checks.svg', 'corrections.csv']);

/**
 * @param shown the path as the person knows it, for messages
 * @throws InputProblem where it cannot be read, is not a plain file, or is too large to be text
 */
export async function readBytes(path: string, shown = path): Promise<Uint8Array> {
  const bytes = await readBytesIfThere(path, shown);
  if (bytes === null) throw new InputProblem(shown, '', 'is not there', 'check the path');
  return bytes;
}

/** As readBytes; null where there is no such file. */
export async function readBytesIfThere(path: string, shown = path): Promise<Uint8Array | null> {
  let handle: FileHandle | undefined;
  try {
    const found = await stat(path);
    if (found.isDirectory())
      throw new InputProblem(shown, '', 'is a folder, where a file belongs', 'check the path');
    // A pipe or a device would keep the reader waiting for ever.
    if (!found.isFile())
      throw new InputProblem(shown, '', 'is not a plain file', 'put a plain file in its place');
    if (found.size > largestTextBytes)
      throw new InputProblem(
        shown,
        '',
        `is ${found.size} bytes long, and ${largestTextBytes} is the most that is read as text`,
        'check that it is the right file',
      );
    handle = await open(path, 'r');
    return new Uint8Array(await handle.readFile());
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return null;
    throw asProblem(error, shown, 'read');
  } finally {
    await handle?.close();
  }
}

/**
 * UTF-8 as text. A byte order mark stays in front, so that what is written back is what was read.
 *
 * @throws InputProblem where the bytes are not UTF-8
 */
export function asText(bytes: Uint8Array, shown: string): string {
  if ((bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff))
    throw new InputProblem(shown, '', 'is UTF-16 text', 'save it as UTF-8');
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    throw new InputProblem(shown, '', 'is not UTF-8 text', 'save it as UTF-8');
  }
}

/** true where `path` is `root` or lies below it; both are real paths. */
export function isInside(root: string, path: string): boolean {
  const way = relative(root, path);
  return way === '' || (way !== '..' && !way.startsWith(`..${sep}`) && !isAbsolute(way));
}

/**
 * The real path of what `name` says, seen from `folder`.
 *
 * @throws InputProblem where that is outside `root`: takes come from strangers, and must not reach other files
 */
export async function pathWithin(root: string, folder: string, name: string, shown: string): Promise<string> {
  const path = join(folder, name);
  if (isAbsolute(name) || !isInside(root, path))
    throw new InputProblem(
      shown,
      '',
      `"${name}" leads out of the machine’s folder`,
      'copy the file into it and name it there',
    );
  let real;
  try {
    real = await realpath(path);
  } catch (error) {
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

/** A take's files, opened when they are first read and closed together. */
export interface OpenSources {
  /** By name; the tool's own files and hidden ones left out. */
  readonly files: readonly SourceFile[];
  /** The youngest of them, ms since 1970; −Infinity where there are none. */
  readonly newestMs: number;
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
  let newestMs = -Infinity;
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
    newestMs = Math.max(newestMs, found.mtimeMs);
    prints.push(`${name} ${found.size} ${found.mtimeMs}`);
    let handle: Promise<FileHandle> | undefined;
    const opened = () => {
      if (handle === undefined) handles.push((handle = open(path, 'r')));
      return handle;
    };
    files.push(sourceFile(name, shownFile, found.size, opened));
  }
  return {
    files,
    newestMs,
    fingerprint: prints.join('\n'),
    close: async () => {
      for (const outcome of await Promise.allSettled(handles))
        if (outcome.status === 'fulfilled') await outcome.value.close();
    },
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
