/**
 * How reports stand, for the view, the page and the pickers. What a take's folder holds is digested by the analysis thread
 * where that reaches the disk, else here from whole files; it is done once for each state of the folder.
 */
import { reportFileNames } from '../../analysis/results/files.ts';
import * as vscode from 'vscode';
import type { Machine } from '../../analysis/machine/machine.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { freshnessOf, type Freshness, type Present } from '../../analysis/report/freshness.ts';
import type { Inputs, ReportHead } from '../../analysis/results/results.ts';
import { digestOf, inputFiles, webSha256 } from '../common/inputs.ts';
import { readWithin } from './disk.ts';

/** The files of a take's folder with their digests. */
export type Digested = Inputs['files'];
export type Digester = (root: vscode.Uri, folder: vscode.Uri) => Promise<Digested>;

/** A browser has no room for more at once; larger files are told by their size alone. */
const largestDigestedBytes = 700e6;

/** Files handed over to the reader, whole. */
const fromWholeFiles: Digester = async (root, folder) => {
  const rows: Digested = [];
  for (const { name, size } of await filesIn(folder)) {
    if (size > largestDigestedBytes) continue;
    const bytes = await readWithin(root, vscode.Uri.joinPath(folder, name));
    if (bytes === null) continue; // gone since the folder was listed
    const source = {
      name,
      sizeBytes: size,
      read: (start = 0, end = bytes.length) => Promise.resolve(bytes.subarray(start, end)),
    };
    for (const input of await inputFiles([source]))
      rows.push({ file: name, sizeBytes: size, kind: input.kind, sha256: await digestOf(input, webSha256) });
  }
  return rows;
};

let digester: Digester = fromWholeFiles;

/** @param reaching digests folders that the analysis thread reaches */
export function digestThere(reaches: (folder: vscode.Uri) => boolean, reaching: Digester): void {
  digester = (root, folder) => (reaches(folder) ? reaching : fromWholeFiles)(root, folder);
}

const known = new Map<string, { readonly state: string; readonly digested: Promise<Digested> }>();

/**
 * @param writtenMs when the report was written: all that tells of reports from before digests were kept
 * @returns null where its files cannot be read: analysing it says why
 */
export async function freshnessAt(
  { root, folder }: { readonly root: vscode.Uri; readonly folder: vscode.Uri },
  report: ReportHead,
  writtenMs: number,
  machine: Machine,
  digests: Present['digests'],
): Promise<Freshness | null> {
  const listed = await filesIn(folder);
  try {
    const rows = await digested(root, folder, listed);
    const now = new Map(rows.map((row) => [row.file, row]));
    const before = new Map((report.inputs?.files ?? []).map((row) => [row.file, row]));
    const unread = listed.filter(({ name, size }) => !now.has(name) && before.get(name)?.sizeBytes === size);
    return await freshnessOf(report, {
      files: [
        ...rows.map(({ file, sizeBytes, kind }) => ({ name: file, sizeBytes, kind })),
        ...unread.map(({ name, size }) => ({ name, sizeBytes: size, kind: before.get(name)!.kind })),
      ],
      digest: (name) => Promise.resolve((now.get(name) ?? before.get(name)!).sha256),
      machine,
      digests,
      newer: () => Promise.resolve(listed.find(({ mtime }) => mtime > writtenMs)?.name ?? null),
    });
  } catch (error) {
    if (error instanceof InputProblem) return null;
    throw error;
  }
}

/**
 * What a take's folder holds now, with digests.
 *
 * @throws InputProblem where a file cannot be read
 */
export async function digestsAt(root: vscode.Uri, folder: vscode.Uri): Promise<Digested> {
  return digested(root, folder, await filesIn(folder));
}

async function digested(root: vscode.Uri, folder: vscode.Uri, files: Listed): Promise<Digested> {
  const state = files.map(({ name, size, mtime }) => `${name} ${size} ${mtime}`).join('\n');
  const address = folder.toString();
  let entry = known.get(address);
  if (entry?.state !== state) {
    entry = { state, digested: digester(root, folder) };
    known.set(address, entry);
  }
  try {
    return await entry.digested;
  } catch (error) {
    known.delete(address); // asked again at the next change
    throw error;
  }
}

type Listed = readonly { readonly name: string; readonly size: number; readonly mtime: number }[];

/** What the tool writes beside them is none of a take's files. */
const ownFiles = new Set<string>(reportFileNames);

async function filesIn(folder: vscode.Uri): Promise<Listed> {
  const names = (await vscode.workspace.fs.readDirectory(folder).then(undefined, () => []))
    .filter(
      ([name, type]) => (type & vscode.FileType.File) !== 0 && !name.startsWith('.') && !ownFiles.has(name),
    )
    .map(([name]) => name)
    .sort();
  const stats = names.map(async (name) => {
    const found = await vscode.workspace.fs
      .stat(vscode.Uri.joinPath(folder, name))
      .then(undefined, () => null);
    return found === null ? [] : [{ name, size: found.size, mtime: found.mtime }];
  });
  return (await Promise.all(stats)).flat();
}
