/** A machine's folder read through the editor's file system, so that it works wherever the editor does. */
import * as vscode from 'vscode';
import type { SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { InputProblem } from '../../analysis/input/problem.ts';
import type { Freshness, Present } from '../../analysis/report/freshness.ts';
import { sameParts } from '../../analysis/report/same-machine.ts';
import type { EarlierReport, ReportHead } from '../../analysis/results/results.ts';
import { byRecorded } from '../../analysis/take/order.ts';
import { machineDigests, webSha256 } from '../common/inputs.ts';
import {
  machineFile,
  machineFrom,
  recordedOf,
  savedVoices,
  takeNames,
  takesFolder,
  takesOnRecord,
  voiceNames,
  type TakeOnRecord,
} from '../common/machine-folder.ts';
import { folderAt, refuseLink } from './disk.ts';
import { freshnessAt } from './freshness.ts';
import { headAt, soon } from './report-files.ts';

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
  return machineOf(root, (await machineDocument(root)).getText());
}

/** machine.jsonc as it is in the editor. @throws InputProblem where it is a link out of the folder */
export async function machineDocument(root: vscode.Uri): Promise<vscode.TextDocument> {
  const file = vscode.Uri.joinPath(root, machineFile);
  await refuseLink(root, file);
  return vscode.workspace.openTextDocument(file);
}

/**
 * @param pattern a file that is taken as it is in the editor, saved or not
 * @throws InputProblem
 */
export function machineOf(root: vscode.Uri, text: string, pattern?: vscode.TextDocument): Promise<Machine> {
  return machineFrom(folderAt(root), text, (name) =>
    pattern?.uri.path === vscode.Uri.joinPath(root, name).path
      ? new TextEncoder().encode(pattern.getText())
      : undefined,
  );
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
export const earlierReports = (root: vscode.Uri): Promise<TakeOnRecord[]> => takesOnRecord(folderAt(root));

async function takesIn(root: vscode.Uri, machine: Machine | null, waitS: number): Promise<TakeEntry[]> {
  // A saved voice that cannot be used is told when a take is analysed.
  const digests = machine && (await machineDigestsAt(root, machine).catch(() => null));
  const reader = folderAt(root);
  const takes = (await takeNames(reader)).map(async (name): Promise<TakeEntry> => {
    const folder = vscode.Uri.joinPath(root, takesFolder, name);
    const [head, said] = await Promise.all([
      headAt(folder, waitS),
      recordedOf(reader, name).catch(() => null),
    ]);
    const { report = null, fault = null, writtenMs = 0 } = head ?? {};
    const freshness =
      report && machine && digests
        ? await soon(freshnessAt({ root, folder }, report, writtenMs, machine, digests), waitS)
        : null;
    const recorded = said ?? report?.recorded ?? null;
    return { root, folder, name, recorded, report, unread: head === null, fault, freshness };
  });
  return (await Promise.all(takes)).sort(byRecorded);
}

/** Saved voices, by name: where each is, and what a person calls it. */
export async function voiceFiles(
  root: vscode.Uri,
): Promise<{ readonly name: string; readonly file: vscode.Uri }[]> {
  const names = await voiceNames(folderAt(root));
  return names.map((name) => ({ name, file: vscode.Uri.joinPath(root, name) }));
}

/** Voices saved with the machine. */
export const voicesOf = (root: vscode.Uri): Promise<SavedVoice[]> => savedVoices(folderAt(root));

/** @throws InputProblem where a saved voice cannot be used */
async function machineDigestsAt(root: vscode.Uri, machine: Machine): Promise<Present['digests']> {
  return machineDigests(machine, await voicesOf(root), webSha256);
}
