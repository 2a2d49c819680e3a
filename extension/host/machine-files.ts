/** A machine's folder read through the editor's file system, so that it works wherever the editor does. */
import * as vscode from 'vscode';
import { readSavedVoice, voicesFolder, type SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Freshness, Present } from '../../analysis/report/freshness.ts';
import { sameParts } from '../../analysis/report/same-machine.ts';
import type { EarlierReport, ReportHead } from '../../analysis/results/results.ts';
import { byName, inOrder, recordedIn } from '../../analysis/take/order.ts';
import { looseValue } from '../../analysis/input/jsonc.ts';
import { machineDigests, webSha256 } from '../common/inputs.ts';
import { readWithin, refuseLink } from './disk.ts';
import { freshnessAt } from './freshness.ts';
import { earlierReport, headAt, soon } from './report-files.ts';

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
  /** How the report stands to what it was made from; null where there is none, or that is not known yet. */
  readonly freshness: Freshness | null;
}

/** @throws InputProblem where machine.jsonc or its pattern cannot be used */
export async function machineAt(root: vscode.Uri): Promise<Machine> {
  return machineFrom(root, (await machineDocument(root)).getText());
}

/** machine.jsonc as it is in the editor. @throws InputProblem where it is a link out of the folder */
export async function machineDocument(root: vscode.Uri): Promise<vscode.TextDocument> {
  const file = vscode.Uri.joinPath(root, 'machine.jsonc');
  await refuseLink(root, file);
  return vscode.workspace.openTextDocument(file);
}

/**
 * @param pattern a file that is taken as it is in the editor, saved or not
 * @throws InputProblem
 */
export function machineFrom(root: vscode.Uri, text: string, pattern?: vscode.TextDocument): Promise<Machine> {
  return readMachine('machine.jsonc', text, async (name) => {
    if (/[/\\]/.test(name) || name === '..')
      throw new InputProblem(
        'machine.jsonc',
        'pattern',
        `"${name}" leads elsewhere`,
        'put it beside this file',
      );
    const file = vscode.Uri.joinPath(root, name);
    if (pattern?.uri.path === file.path) return new TextEncoder().encode(pattern.getText());
    const bytes = await readWithin(root, file);
    if (bytes !== null) return bytes;
    throw vscode.FileSystemError.FileNotFound(name); // the core says best what a missing pattern means
  });
}

/** Whose pattern a file is: no tune where the machine has one pattern; null where it is no pattern of the machine. */
export function tuneOfPattern(
  machine: Machine,
  root: vscode.Uri,
  file: vscode.Uri,
): { readonly tune: string | undefined } | null {
  const isHere = (pattern: string) => vscode.Uri.joinPath(root, pattern).path === file.path;
  const own = machine.tunes?.find(({ pattern }) => isHere(pattern));
  if (own !== undefined) return { tune: own.name };
  return isHere(machine.description.pattern) ? { tune: undefined } : null;
}

/** Reports of a machine with these parts, oldest first. */
export async function reportsOf(root: vscode.Uri, machine: Machine): Promise<EarlierReport[]> {
  return (await earlierReports(root)).flatMap(({ report }) =>
    report !== null && sameParts(report, machine) ? [report] : [],
  );
}

/** Long enough for the reports of an ordinary machine, short enough for a person, s. */
const soonS = 0.3;

/**
 * Takes of a machine, oldest first.
 *
 * @param machine null where it cannot be read: then nothing is said of how reports stand
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
  // A saved voice that cannot be used is told when a take is analysed.
  const digests = machine && (await machineDigestsAt(root, machine).catch(() => null));
  const takes = (await foldersOf(root)).map(async ({ name, folder }): Promise<TakeEntry> => {
    const [head, said] = await Promise.all([headAt(folder, waitS), recordedAt(folder)]);
    const { report = null, fault = null, writtenMs = 0 } = head ?? {};
    const freshness =
      report && machine && digests
        ? await soon(freshnessAt({ root, folder }, report, writtenMs, machine, digests), waitS)
        : null;
    const recorded = said ?? report?.recorded ?? null;
    return { root, folder, name, recorded, report, unread: head === null, fault, freshness };
  });
  return (await Promise.all(takes)).sort(inOrder);
}

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

/** Voices saved with the machine. */
export async function voicesOf(root: vscode.Uri): Promise<SavedVoice[]> {
  const voices: SavedVoice[] = [];
  for (const { name, file } of await voiceFiles(root))
    voices.push(
      readSavedVoice(name, new TextDecoder().decode((await readWithin(root, file)) ?? new Uint8Array())),
    );
  return voices;
}

/** @throws InputProblem where a saved voice cannot be used */
async function machineDigestsAt(root: vscode.Uri, machine: Machine): Promise<Present['digests']> {
  return machineDigests(machine, await voicesOf(root), webSha256);
}

async function recordedAt(folder: vscode.Uri): Promise<string | null> {
  const file = vscode.Uri.joinPath(folder, 'take.jsonc');
  const bytes = await readWithin(vscode.Uri.joinPath(folder, '..', '..'), file).catch(() => null);
  return bytes === null ? null : recordedIn(looseValue(new TextDecoder().decode(bytes)));
}

async function list(folder: vscode.Uri): Promise<[string, vscode.FileType][]> {
  return vscode.workspace.fs.readDirectory(folder).then(undefined, () => []);
}
