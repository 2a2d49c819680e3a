/**
 * Reports read through the editor's file system. How each take stands is asked for at every change of any file, so heads
 * are kept while their file stays as it is; who does not want to wait for all of them is told when more are there.
 */
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import { inTurn } from '../common/in-turn.ts';
import { reportOf } from '../common/machine-folder.ts';
import { folderAt } from './disk.ts';
import { nameOf } from './uri-name.ts';
import { parseEarlier, parseHead } from '../../analysis/report/parse-part.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import type { EarlierReport, Report, ReportHead } from '../../analysis/results/results.ts';

export interface ReadHead {
  readonly report: ReportHead | null;
  /** A report that cannot be read. */
  readonly fault: InputProblem | null;
  /** When it was written, ms since 1970; 0 where there is none. */
  readonly writtenMs: number;
}

/** Readers are told of more heads so often at most: each time everything is shown anew, and the editor takes no click meanwhile. */
const tellEveryMs = 2000;

const known = new Map<string, { readonly key: string; readonly head: Promise<ReadHead> }>();
let telling: ReturnType<typeof setTimeout> | undefined;
const more = new vscode.EventEmitter<void>();

/** Heads have been read for which somebody did not wait. */
export const onMoreHeads = more.event;

/** @param waitS resolves null where the head is not there by then, and tells later */
export async function headAt(folder: vscode.Uri, waitS = Infinity): Promise<ReadHead | null> {
  const file = reportIn(folder);
  const stat = await vscode.workspace.fs.stat(file).then(undefined, () => null);
  if (stat === null) return { report: null, fault: null, writtenMs: 0 };
  const address = file.toString();
  const key = `${stat.mtime} ${stat.size}`;
  let entry = known.get(address);
  if (entry?.key !== key) {
    entry = { key, head: inTurn(() => readHead(file, stat.mtime)) };
    known.set(address, entry);
  }
  return soon(entry.head, waitS);
}

/** What is asked for, or null where it is not there within `waitS`; then readers are told later. */
export async function soon<T>(asked: Promise<T>, waitS: number): Promise<T | null> {
  if (waitS === Infinity) return asked;
  let isLate = false;
  const late = new Promise<null>((settle) =>
    setTimeout(() => {
      isLate = true;
      settle(null);
    }, 1000 * waitS),
  );
  const answer = await Promise.race([asked, late]);
  if (isLate) void asked.then(tellSoon, tellSoon);
  return answer;
}

/** @throws InputProblem where it is no report; null where there is none */
export const wholeReport = (folder: vscode.Uri): Promise<Report | null> => read(folder, parseReport);

/** The same without its strokes; null too where it cannot be used, which the view of the takes tells. */
export function earlierReport(folder: vscode.Uri): Promise<EarlierReport | null> {
  return inTurn(() => read(folder, parseEarlier)).catch((error: unknown) => {
    if (error instanceof InputProblem) return null;
    throw error;
  });
}

const reportIn = (folder: vscode.Uri) => vscode.Uri.joinPath(folder, 'report.json');

async function readHead(file: vscode.Uri, writtenMs: number): Promise<ReadHead> {
  try {
    const report = await read(vscode.Uri.joinPath(file, '..'), parseHead);
    return { report, fault: null, writtenMs };
  } catch (error) {
    if (error instanceof InputProblem) return { report: null, fault: error, writtenMs };
    throw error;
  }
}

/** @param take takes/<name>/ of the machine's folder */
function read<R>(take: vscode.Uri, parse: (file: string, text: string) => R): Promise<R | null> {
  const root = vscode.Uri.joinPath(take, '..', '..');
  return reportOf(folderAt(root), nameOf(take), parse);
}

function tellSoon(): void {
  telling ??= setTimeout(() => {
    telling = undefined;
    more.fire();
  }, tellEveryMs);
}
