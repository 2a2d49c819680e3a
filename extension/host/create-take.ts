/** "Create New Take": files that were picked or dropped are copied into a folder of their own, with a take.jsonc. */
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import { freeName, isTakeName, takeText } from '../common/new-take.ts';
import { localDate } from '../common/work-done.ts';
import { refuseLink, writeWithin } from './disk.ts';
import { exists } from './machine-search.ts';
import { isUri, pickMachine, type Clicked } from './targets.ts';
import { nameOf } from './uri-name.ts';
import type { Workshop } from './workshop.ts';

/** A file to copy: by its address, or its bytes where it was dropped from outside. */
export type NewFile = vscode.Uri | { readonly name: string; readonly bytes: Uint8Array };

/**
 * @param files to copy; picked where absent
 * @param name of the take's folder; asked for where absent
 * @returns the new folder; null where the person gave up
 */
export async function createTake(
  shop: Workshop,
  clicked: Clicked,
  files?: readonly NewFile[],
  name?: string,
): Promise<vscode.Uri | null> {
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const given = files ?? (await pickFiles(clicked));
  if (!given || given.length === 0) return null;
  const takes = vscode.Uri.joinPath(root, 'takes');
  const chosen = name ?? (await askName(takes));
  if (chosen === undefined) return null;
  if (faultOfName(chosen))
    throw new InputProblem(`takes/${chosen}`, '', 'is no name for a folder', faultOfName(chosen)!);
  const folder = vscode.Uri.joinPath(takes, chosen);
  if (await exists(folder))
    throw new InputProblem(`takes/${chosen}`, '', 'is there already', 'choose another name');
  const description = vscode.Uri.joinPath(folder, 'take.jsonc');
  await refuseLink(root, description); // takes/ may be a link
  await vscode.workspace.fs.createDirectory(folder);
  for (const file of given) {
    const target = vscode.Uri.joinPath(folder, isUri(file) ? nameOf(file) : file.name);
    if (isUri(file)) await vscode.workspace.fs.copy(file, target);
    else await writeWithin(root, [{ file: target, bytes: file.bytes, before: null }]);
  }
  if (!(await exists(description)))
    await writeWithin(root, [
      { file: description, bytes: new TextEncoder().encode(takeText(await recordedAt(given))), before: null },
    ]);
  shop.changed();
  await vscode.commands.executeCommand('vscode.open', description);
  return folder;
}

/** When the oldest of the files was last written, which is when its recording ended; now, where nothing tells it. */
async function recordedAt(files: readonly NewFile[]): Promise<Date> {
  const times = files.map(async (file) =>
    isUri(file)
      ? vscode.workspace.fs.stat(file).then(
          ({ mtime }) => mtime || Infinity,
          () => Infinity,
        )
      : Infinity,
  );
  return new Date(Math.min(Date.now(), ...(await Promise.all(times))));
}

async function pickFiles(clicked: Clicked): Promise<readonly vscode.Uri[] | undefined> {
  if (isUri(clicked) && !clicked.path.endsWith('/machine.jsonc')) {
    const stat = await vscode.workspace.fs.stat(clicked).then(undefined, () => null);
    if (stat && (stat.type & vscode.FileType.File) !== 0) return [clicked];
  }
  const title = vscode.l10n.t('Audio and marker files of the new take');
  return vscode.window.showOpenDialog({ canSelectMany: true, title });
}

function faultOfName(name: string): string | null {
  if (!isTakeName(name))
    return vscode.l10n.t('letters, digits, spaces, "-", "_" and "." make a name; no dot first');
  return null;
}

async function askName(takes: vscode.Uri): Promise<string | undefined> {
  const title = vscode.l10n.t('Name of the take');
  return vscode.window.showInputBox({
    title,
    value: await freeName(localDate(new Date()), (name) => exists(vscode.Uri.joinPath(takes, name))),
    ignoreFocusOut: true,
    validateInput: async (value) =>
      faultOfName(value) ??
      ((await exists(vscode.Uri.joinPath(takes, value)))
        ? vscode.l10n.t('there is a take of that name')
        : null),
  });
}
