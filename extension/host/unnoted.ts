/** Settings in machine.jsonc that differ from what the log and the newest take say, told in the editor. */
import * as vscode from 'vscode';
import type { Machine } from '../../analysis/machine/machine.ts';
import { unnotedSettings, unnotedWords, type Unnoted } from '../../analysis/report/unnoted.ts';
import type { ReportHead } from '../../analysis/results/results.ts';
import { readWithin } from './disk.ts';

type Newest = Pick<ReportHead, 'take' | 'settings'>;

/** By the changelog as it is on the disk. */
export async function unnotedIn(root: vscode.Uri, machine: Machine, newest: Newest): Promise<Unnoted[]> {
  const bytes = await readWithin(root, vscode.Uri.joinPath(root, 'CALIBRATION.md'));
  const log = bytes && new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);
  return unnotedSettings(machine, newest, log);
}

/** A line for each; none where all is as it was noted. */
export async function unnotedLines(root: vscode.Uri, machine: Machine, newest: Newest): Promise<string[]> {
  const record = vscode.l10n.t('enter it as fitted');
  const unnoted = await unnotedIn(root, machine, newest);
  return unnoted.map((each) => unnotedWords(each, newest.take, record));
}
