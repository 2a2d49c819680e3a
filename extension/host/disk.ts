/**
 * The editor's one door to a machine's files. Where the editor runs on Node the files are the disk's, and go through the same
 * door as the terminal's (files/); elsewhere through the editor's file system. Links never lead out of the machine's folder.
 */
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { FolderReader } from '../common/machine-folder.ts';
import { said } from './words.ts';

/** A file to write; `before` as for the files of the disk (files/write.ts). */
interface DiskChange {
  readonly path: string;
  readonly bytes: Uint8Array;
  readonly before?: Uint8Array | null;
}

/** What a host on Node has; paths are as the editor knows them, and may go through links up to the machine's folder. */
export interface Disk {
  /** null where there is no such file. @throws InputProblem where it must not be read */
  read(root: string, path: string): Promise<Uint8Array | null>;
  /** Whole or not at all. @throws InputProblem */
  write(root: string, changes: readonly DiskChange[]): Promise<void>;
  /** Runs `act`, which saves the files by the editor, all or none. @throws InputProblem; what `act` throws */
  saveNoted(root: string, changes: readonly DiskChange[], act: () => Promise<boolean>): Promise<boolean>;
  /** What a run that was killed left half done, put right, in words; null where there is nothing. @throws InputProblem */
  mend(root: string): Promise<string | null>;
  /** A text of a folder's git repository as it was in a commit. @throws InputProblem */
  committed(folder: string, commit: string, name: string): Promise<string>;
  /** @throws InputProblem where what is there, if anything, is no plain file inside the folder */
  check(root: string, path: string): Promise<void>;
}

let disk: Disk | null = null;

/** Said once, by the part that only Node loads. */
export function useDisk(given: Disk): void {
  disk = given;
}

export interface FileChange {
  readonly file: vscode.Uri;
  readonly bytes: Uint8Array;
  /** What it held when it was read, null where it was not there: otherwise it is left alone. Absent: replace it. */
  readonly before?: Uint8Array | null;
}

/**
 * @param root the machine's folder
 * @returns null where there is no such file
 * @throws InputProblem where a link on the way leads out of the folder, or it is no plain file
 */
export async function readWithin(root: vscode.Uri, file: vscode.Uri): Promise<Uint8Array | null> {
  if (disk !== null && root.scheme === 'file') return disk.read(root.fsPath, file.fsPath);
  await refuseLink(root, file);
  try {
    return await vscode.workspace.fs.readFile(file);
  } catch (error) {
    if (isMissing(error)) return null;
    throw error;
  }
}

/** A machine's folder for the reader that all hosts have in common; messages name its files as seen from it. */
export function folderAt(root: vscode.Uri): FolderReader {
  return {
    shown: (name) => name,
    read: async (name) => readWithin(root, vscode.Uri.joinPath(root, name)),
    async list(name) {
      const entries = await vscode.workspace.fs
        .readDirectory(vscode.Uri.joinPath(root, name))
        .then(undefined, () => []);
      return entries.map(([entry, type]) => ({
        name: entry,
        isFolder: (type & vscode.FileType.Directory) !== 0,
      }));
    },
  };
}

/** @throws InputProblem as readWithin, and where a file was changed since it was read */
export async function writeWithin(root: vscode.Uri, changes: readonly FileChange[]): Promise<void> {
  if (disk !== null && root.scheme === 'file')
    return disk.write(
      root.fsPath,
      changes.map(({ file, ...change }) => ({ ...change, path: file.fsPath })),
    );
  for (const { file } of changes) await refuseLink(root, file);
  for (const { file, bytes } of changes) {
    const beside = vscode.Uri.joinPath(file, '..', `.shimwright-${crypto.randomUUID()}.tmp`);
    await vscode.workspace.fs.writeFile(beside, bytes);
    try {
      await vscode.workspace.fs.rename(beside, file, { overwrite: true });
    } catch (error) {
      await vscode.workspace.fs.delete(beside).then(undefined, () => undefined);
      throw error;
    }
  }
}

/**
 * Files that are open in the editor, and saved by it, all or none: a window that is killed between two saves leaves a note,
 * by which the next start puts them right.
 *
 * @param act saves them; false or an error where it did not save them all
 * @throws InputProblem before anything is saved; what `act` throws
 */
export async function saveNoted(
  root: vscode.Uri,
  changes: readonly FileChange[],
  act: () => Promise<boolean>,
): Promise<boolean> {
  if (disk === null || root.scheme !== 'file') return act();
  const onDisk = changes.map(({ file, ...change }) => ({ ...change, path: file.fsPath }));
  return disk.saveNoted(root.fsPath, onDisk, act);
}

/** Puts right what a killed window or run left half done, and tells it. Nothing in a workspace that is not trusted. */
export async function mendAndTell(root: vscode.Uri): Promise<void> {
  if (disk === null || root.scheme !== 'file' || !vscode.workspace.isTrusted) return;
  // A folder that may only be read can still be read.
  const words = await disk.mend(root.fsPath).catch((error: unknown) => {
    if (error instanceof InputProblem) return error.message;
    throw error;
  });
  if (words !== null) void vscode.window.showWarningMessage(said(words));
}

/**
 * A text as it was in a commit: git runs nothing that the repository names, and fetches nothing. The built-in Git
 * extension, which lists the commits, would let it.
 *
 * @throws InputProblem where it cannot be had
 */
export async function committed(folder: vscode.Uri, commit: string, name: string): Promise<string> {
  if (disk !== null && folder.scheme === 'file') return disk.committed(folder.fsPath, commit, name);
  throw new InputProblem(name, '', 'git is not reached from here', 'open the folder on a desktop');
}

/**
 * Before the editor itself opens or saves a file: it follows links wherever they lead.
 *
 * @throws InputProblem as readWithin
 */
export async function refuseLink(root: vscode.Uri, file: vscode.Uri): Promise<void> {
  if (disk !== null && root.scheme === 'file') return disk.check(root.fsPath, file.fsPath);
  const stat = await vscode.workspace.fs.stat(file).then(undefined, () => null);
  // Of a file system that is no disk nobody can tell where a link leads.
  if (stat !== null && (stat.type & vscode.FileType.SymbolicLink) !== 0)
    throw new InputProblem(
      file.path.startsWith(`${root.path}/`) ? file.path.slice(root.path.length + 1) : file.path,
      '',
      'is a link, and where it leads cannot be told here',
      'put a plain file in its place',
    );
}

function isMissing(error: unknown): boolean {
  return error instanceof vscode.FileSystemError && error.code === 'FileNotFound';
}
