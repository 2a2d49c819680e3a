/** Faults reach the person as one line, with a button that opens the file at the place. */
import { Stopped } from '../work/stopped.ts';
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import { exists } from './machine-search.ts';
import { nameOf } from './uri-name.ts';
import { picked, said } from './words.ts';
import type { Workshop } from './workshop.ts';

/** Where a fault may lie: its file is named as seen from one of these. */
export interface Around {
  readonly root?: vscode.Uri;
  readonly take?: vscode.Uri;
}

/** Shows what went wrong; a run that was stopped went as wished, and nothing is said. */
export async function tell(shop: Workshop, error: unknown, around: Around = {}): Promise<void> {
  if (error instanceof Stopped) return;
  if (!(error instanceof InputProblem)) {
    shop.log.error(error instanceof Error ? (error.stack ?? error.message) : String(error));
    const text = vscode.l10n.t('Shimwright failed: a defect of the extension, not of your files.');
    const showLog = vscode.l10n.t('Show Log');
    if ((await vscode.window.showErrorMessage(text, showLog)) === showLog) shop.log.show();
    return;
  }
  shop.log.warn(error.message);
  const file = await fileOf(error, around);
  const open = file && vscode.l10n.t('Open {0}', picked(nameOf(file)));
  const shown = file ? vscode.workspace.asRelativePath(file) : error.file;
  const line = [shown, error.place, `${error.what}; ${error.mend}`].filter((part) => part !== '').join(': ');
  const chosen = await vscode.window.showErrorMessage(said(line), ...(open ? [open] : []));
  if (file && chosen === open) await openAt(file, placeOf(error.place));
}

/** Runs a command's work; whatever goes wrong is told. */
export async function guarded<T>(
  shop: Workshop,
  around: Around,
  work: () => Promise<T>,
): Promise<T | undefined> {
  try {
    return await work();
  } catch (error) {
    void tell(shop, error, around);
    return undefined;
  }
}

/**
 * The file that a problem or a finding names, where it is one of the take's or the machine's: a report from elsewhere may
 * name any, and others are not so much as looked for.
 */
export async function fileOf({ file }: InputProblem, { root, take }: Around): Promise<vscode.Uri | null> {
  if (file === '') return null;
  const places: vscode.Uri[] = [];
  const folders = [take, root].flatMap((folder) => folder ?? []);
  if (/^([/\\]|[A-Za-z]:[\\/])/.test(file)) {
    const named = vscode.Uri.file(file);
    if (folders.some((folder) => below(folder, named))) places.push(named);
  } else if (!file.split(/[/\\]/).includes('..'))
    places.push(...folders.map((folder) => vscode.Uri.joinPath(folder, file)));
  for (const place of places) {
    const stat = await vscode.workspace.fs.stat(place).then(undefined, () => null);
    if (stat && (stat.type & vscode.FileType.File) !== 0) return place;
  }
  return null;
}

const below = (folder: vscode.Uri, file: vscode.Uri) =>
  file.scheme === folder.scheme &&
  file.authority === folder.authority &&
  !file.path.split('/').includes('..') &&
  file.path.startsWith(vscode.Uri.joinPath(folder, '/').path);

/** "12:15 adjusters[2].min", "line 12" → a place in a document; the start where the words name none. */
export function placeOf(place: string): vscode.Range {
  const [, line, column] = /^(?:line )?(\d+)(?::(\d+))?/.exec(place) ?? [];
  if (line === undefined) return new vscode.Range(0, 0, 0, 0);
  const row = Math.max(0, Number(line) - 1);
  return column === undefined
    ? new vscode.Range(row, 0, row, Number.MAX_SAFE_INTEGER)
    : new vscode.Range(row, Number(column) - 1, row, Number(column) - 1);
}

/** Text opens at the place; what is no text (audio, MIDI) opens as the editor likes. */
export async function openAt(file: vscode.Uri, range: vscode.Range): Promise<void> {
  if (!(await exists(file))) return;
  await vscode.commands.executeCommand('vscode.open', file, { selection: range });
}

/** @returns whether the folder is trusted; where not, says so with the button that changes it */
export async function trusted(): Promise<boolean> {
  if (vscode.workspace.isTrusted) return true;
  const manage = vscode.l10n.t('Manage Trust');
  const text = vscode.l10n.t(
    'This folder is not trusted: it can be read, and nothing is analysed or written.',
  );
  if ((await vscode.window.showWarningMessage(text, manage)) === manage)
    await vscode.commands.executeCommand('workbench.trust.manage');
  return false;
}
