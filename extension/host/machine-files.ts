/** A machine's folder read through the editor's file system, so that it works wherever the editor does. */
import * as vscode from 'vscode';
import { voicesFolder } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import { InputProblem } from '../../analysis/problem.ts';
import { describesMachine } from '../../analysis/report/same-machine.ts';
import type { EarlierReport, ReportHead } from '../../analysis/results.ts';
import { byName, inOrder, recordedIn } from '../../analysis/take/order.ts';
import { looseValue } from '../../analysis/jsonc.ts';
import { earlierReport, headAt, type ReadHead } from './report-files.ts';

export interface TakeEntry {
  readonly root: vscode.Uri;
  readonly folder: vscode.Uri;
  readonly name: string;
  /** ISO 8601 */
  readonly recorded: string | null;
  readonly report: ReportHead | null;
  /** There is a report, and it is being read. */
  readonly unread: boolean;
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

/** Long enough for the reports of an ordinary machine, short enough for a person, s. */
const soonS = 0.3;

/**
 * Takes of a machine, oldest first.
 *
 * @param machine null where it cannot be read: then a report counts as up to date by its age alone
 */
export function takesOf(root: vscode.Uri, machine: Machine | null): Promise<TakeEntry[]> {
  return takesIn(root, machine, Infinity);
}

/** The same without waiting for hundreds of reports: which are `unread` is known later (onMoreHeads). */
export function takesSoon(root: vscode.Uri, machine: Machine | null): Promise<TakeEntry[]> {
  return takesIn(root, machine, soonS);
}

/** Every take of a machine with its report, null where there is none that can be read; oldest first. */
export async function earlierReports(
  root: vscode.Uri,
): Promise<{ readonly name: string; readonly folder: vscode.Uri; readonly report: EarlierReport | null }[]> {
  const takes = (await foldersOf(root)).map(async ({ name, folder }) => {
    const report = await earlierReport(folder);
    const recorded = (await recordedAt(folder)) ?? report?.recorded ?? null;
    return { name, folder, report, recorded };
  });
  return (await Promise.all(takes)).sort(inOrder);
}

async function foldersOf(root: vscode.Uri): Promise<{ name: string; folder: vscode.Uri }[]> {
  const parent = vscode.Uri.joinPath(root, 'takes');
  return (await list(parent))
    .filter(([name, type]) => (type & vscode.FileType.Directory) !== 0 && !name.startsWith('.'))
    .map(([name]) => ({ name, folder: vscode.Uri.joinPath(parent, name) }))
    .sort((a, b) => byName(a.name, b.name));
}

async function takesIn(root: vscode.Uri, machine: Machine | null, waitS: number): Promise<TakeEntry[]> {
  const pattern = machine && (await modified(vscode.Uri.joinPath(root, machine.patternFile)));
  const voices = await newestVoice(root);
  const takes = (await foldersOf(root)).map(async ({ name, folder }): Promise<TakeEntry> => {
    const [head, said] = await Promise.all([headAt(folder, waitS), recordedAt(folder)]);
    const { report = null, fault = null } = head ?? {};
    const staleBy =
      head === null || report === null ? null : await newerThan(head, folder, machine, pattern, voices);
    const recorded = said ?? report?.recorded ?? null;
    return { root, folder, name, recorded, report, unread: head === null, fault, staleBy };
  });
  return (await Promise.all(takes)).sort(inOrder);
}

const ownFiles = new Set(['report.json', 'report.md', 'report.svg', 'checks.svg']);

/** Saved voices, by name: where each is, and what a person calls it. */
export async function voiceFiles(
  root: vscode.Uri,
): Promise<{ readonly name: string; readonly file: vscode.Uri }[]> {
  const folder = vscode.Uri.joinPath(root, voicesFolder);
  const names = (await list(folder)).flatMap(([name]) => (name.endsWith('.json') ? [name] : [])).sort();
  return names.map((name) => ({
    name: `${voicesFolder}/${name}`,
    file: vscode.Uri.joinPath(folder, name),
  }));
}

/** The voice that was saved last: with it every take is heard anew. */
async function newestVoice(root: vscode.Uri) {
  const voices = (await voiceFiles(root)).map(async ({ name, file }) => ({
    name,
    savedMs: (await modified(file)) ?? -Infinity,
  }));
  return (await Promise.all(voices)).sort((a, b) => b.savedMs - a.savedMs)[0] ?? null;
}

/** What is newer than a take's report, or what it does not describe any more. */
async function newerThan(
  { report, writtenMs }: ReadHead,
  folder: vscode.Uri,
  machine: Machine | null,
  patternMs: number | null,
  voice: { readonly name: string; readonly savedMs: number } | null,
): Promise<string | null> {
  if (machine !== null && report !== null && !describesMachine(report, machine)) return 'machine.jsonc';
  if (machine !== null && patternMs !== null && patternMs > writtenMs) return machine.description.pattern;
  if (voice !== null && voice.savedMs > writtenMs) return voice.name;
  const names = (await list(folder))
    .filter(
      ([name, type]) => (type & vscode.FileType.File) !== 0 && !name.startsWith('.') && !ownFiles.has(name),
    )
    .map(([name]) => name);
  const times = await Promise.all(names.map((name) => modified(vscode.Uri.joinPath(folder, name))));
  return names.find((_, i) => (times[i] ?? 0) > writtenMs) ?? null;
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
