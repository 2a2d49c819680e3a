/** A machine's folder read through the editor's file system, so that it works wherever the editor does. */
import * as vscode from 'vscode';
import type { Machine } from '../../analysis/machine/machine.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import { InputProblem } from '../../analysis/problem.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import { describesMachine } from '../../analysis/report/same-machine.ts';
import type { Report } from '../../analysis/results.ts';
import { byName, inOrder, recordedIn } from '../../analysis/take/order.ts';
import { looseValue } from '../../analysis/jsonc.ts';

export interface TakeEntry {
  readonly root: vscode.Uri;
  readonly folder: vscode.Uri;
  readonly name: string;
  /** ISO 8601 */
  readonly recorded: string | null;
  readonly report: Report | null;
  /** A report that cannot be read. */
  readonly fault: InputProblem | null;
  /** What is newer than the report, as a person knows it; null where the report is up to date or there is none. */
  readonly staleBy: string | null;
}

/** @throws InputProblem where machine.jsonc or its pattern cannot be used */
export async function machineAt(root: vscode.Uri): Promise<Machine> {
  const document = await vscode.workspace.openTextDocument(vscode.Uri.joinPath(root, 'machine.jsonc'));
  return machineFrom(root, document.getText());
}

/** @throws InputProblem */
export function machineFrom(root: vscode.Uri, text: string): Promise<Machine> {
  return readMachine('machine.jsonc', text, async (name) => {
    if (/[/\\]/.test(name) || name === '..')
      throw new InputProblem(
        'machine.jsonc',
        'pattern',
        `"${name}" leads elsewhere`,
        'put it beside this file',
      );
    return vscode.workspace.fs.readFile(vscode.Uri.joinPath(root, name));
  });
}

/**
 * Takes of a machine, oldest first.
 *
 * @param machine null where it cannot be read: then a report counts as up to date by its age alone
 */
export async function takesOf(root: vscode.Uri, machine: Machine | null): Promise<TakeEntry[]> {
  const parent = vscode.Uri.joinPath(root, 'takes');
  const names = (await list(parent))
    .filter(([name, type]) => (type & vscode.FileType.Directory) !== 0 && !name.startsWith('.'))
    .map(([name]) => name)
    .sort(byName);
  const pattern = machine && (await modified(vscode.Uri.joinPath(root, machine.patternFile)));
  const takes = await Promise.all(names.map((name) => takeAt(root, name, machine, pattern)));
  return takes.sort(inOrder);
}

async function takeAt(
  root: vscode.Uri,
  name: string,
  machine: Machine | null,
  patternMs: number | null,
): Promise<TakeEntry> {
  const folder = vscode.Uri.joinPath(root, 'takes', name);
  const reportFile = vscode.Uri.joinPath(folder, 'report.json');
  const [{ report, fault, writtenMs }, said] = await Promise.all([reportAt(reportFile), recordedAt(folder)]);
  const staleBy =
    report === null
      ? null
      : machine !== null && !describesMachine(report, machine)
        ? 'machine.jsonc'
        : patternMs !== null && machine !== null && patternMs > writtenMs
          ? machine.description.pattern
          : await newerThan(folder, writtenMs);
  return { root, folder, name, recorded: said ?? report?.recorded ?? null, report, fault, staleBy };
}

const ownFiles = new Set(['report.json', 'report.md', 'report.svg', 'checks.svg']);

/** A file of the take that is newer than its report. */
async function newerThan(folder: vscode.Uri, writtenMs: number): Promise<string | null> {
  const names = (await list(folder))
    .filter(
      ([name, type]) => (type & vscode.FileType.File) !== 0 && !name.startsWith('.') && !ownFiles.has(name),
    )
    .map(([name]) => name);
  const times = await Promise.all(names.map((name) => modified(vscode.Uri.joinPath(folder, name))));
  return names.find((_, i) => (times[i] ?? 0) > writtenMs) ?? null;
}

/** Reports by address: the large ones take long to read, and are asked for at every change of any file. */
const known = new Map<string, { readonly key: string; readonly value: ReadReport }>();

interface ReadReport {
  readonly report: Report | null;
  readonly fault: InputProblem | null;
  readonly writtenMs: number;
}

async function reportAt(file: vscode.Uri): Promise<ReadReport> {
  const stat = await vscode.workspace.fs.stat(file).then(undefined, () => null);
  if (stat === null) return { report: null, fault: null, writtenMs: 0 };
  const address = file.toString();
  const key = `${stat.mtime} ${stat.size}`;
  const before = known.get(address);
  if (before?.key === key) return before.value;
  const value = { ...(await parsed(file)), writtenMs: stat.mtime };
  known.set(address, { key, value });
  return value;
}

async function parsed(file: vscode.Uri) {
  try {
    const text = new TextDecoder().decode(await vscode.workspace.fs.readFile(file));
    return { report: parseReport('report.json', text), fault: null };
  } catch (error) {
    if (error instanceof InputProblem) return { report: null, fault: error };
    throw error;
  }
}

async function recordedAt(folder: vscode.Uri): Promise<string | null> {
  const file = vscode.Uri.joinPath(folder, 'take.jsonc');
  const bytes = await vscode.workspace.fs.readFile(file).then(undefined, () => null);
  return bytes === null ? null : recordedIn(looseValue(new TextDecoder().decode(bytes)));
}

async function modified(file: vscode.Uri): Promise<number | null> {
  return vscode.workspace.fs.stat(file).then(
    ({ mtime }) => mtime,
    () => null,
  );
}

async function list(folder: vscode.Uri): Promise<[string, vscode.FileType][]> {
  return vscode.workspace.fs.readDirectory(folder).then(undefined, () => []);
}
