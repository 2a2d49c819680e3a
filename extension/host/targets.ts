/** Which machine and take a command is for: what was clicked, what is open, or what the person picks. */
import * as vscode from 'vscode';
import { exists } from './machine-search.ts';
import type { TakeEntry } from './machine-files.ts';
import type { Node } from './take-view.ts';
import { picked } from './words.ts';
import type { Workshop } from './workshop.ts';

export interface TakePlace {
  readonly root: vscode.Uri;
  readonly folder: vscode.Uri;
  readonly name: string;
}

/** What commands are given: a row of the view, a file or folder of the Explorer, an editor's document, or nothing. */
export type Clicked = Node | vscode.Uri | undefined;

/** The machine above a file or folder. */
export async function machineAbove(uri: vscode.Uri): Promise<vscode.Uri | null> {
  for (let folder = uri; ; folder = vscode.Uri.joinPath(folder, '..')) {
    if (await exists(vscode.Uri.joinPath(folder, 'machine.jsonc'))) return folder;
    if (folder.path === '/' || folder.path === '' || vscode.Uri.joinPath(folder, '..').path === folder.path)
      return null;
  }
}

/** The take that a file or folder belongs to. */
export async function takeAbove(uri: vscode.Uri): Promise<TakePlace | null> {
  const root = await machineAbove(uri);
  if (!root) return null;
  const takes = vscode.Uri.joinPath(root, 'takes/').path;
  if (!uri.path.startsWith(takes)) return null;
  const name = uri.path.slice(takes.length).split('/')[0];
  return name === '' ? null : { root, folder: vscode.Uri.joinPath(root, 'takes', name), name };
}

/** @returns null where the person chose none */
export async function pickMachine(shop: Workshop, clicked: Clicked): Promise<vscode.Uri | null> {
  if (clicked !== undefined && !isUri(clicked)) return clicked.root;
  const from = clicked && clicked.scheme !== 'shimwright' ? clicked : activeDocument();
  const above = from && (await machineAbove(from));
  if (above) return above;
  const roots = await shop.machines();
  if (roots.length <= 1) return roots[0] ?? (await sayNoMachine());
  const items = roots.map((root) => ({ label: picked(vscode.workspace.asRelativePath(root)), root }));
  const placeHolder = vscode.l10n.t('Which machine?');
  return (await vscode.window.showQuickPick(items, { placeHolder }))?.root ?? null;
}

async function sayNoMachine(): Promise<null> {
  const create = vscode.l10n.t('Create New Machine');
  const text = vscode.l10n.t('No folder here holds a machine.jsonc.');
  if ((await vscode.window.showInformationMessage(text, create)) === create)
    await vscode.commands.executeCommand('shimwright.createMachine');
  return null;
}

/** @returns null where the person chose none */
export async function pickTake(
  shop: Workshop,
  clicked: Clicked,
  which: (take: TakeEntry) => boolean = () => true,
): Promise<TakePlace | null> {
  if (clicked !== undefined && !isUri(clicked) && clicked.kind !== 'machine') return clicked.take;
  const from = clicked === undefined ? activeDocument() : isUri(clicked) ? clicked : undefined;
  const above = from && (await takeAbove(from));
  if (above) return above;
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const takes = await takesListed(root, which);
  if (takes.length === 1) return takes[0];
  const placeHolder = takes.length === 0 ? vscode.l10n.t('There is none') : vscode.l10n.t('Which take?');
  return (await vscode.window.showQuickPick(await takeItems(takes), { placeHolder }))?.take ?? null;
}

/** Newest first. */
export async function takesListed(
  root: vscode.Uri,
  which: (take: TakeEntry) => boolean = () => true,
): Promise<TakeEntry[]> {
  const { machineAt, takesOf } = await import('./machine-files.ts');
  return (await takesOf(root, await machineAt(root).catch(() => null))).filter(which).reverse();
}

export async function takeItems(takes: readonly TakeEntry[]) {
  const { standingOf } = await import('./standing.ts');
  return takes.map((take) => {
    const { word, icon } = standingOf(take);
    return {
      label: picked(take.name),
      description: [word, take.recorded?.slice(0, 10)].filter(Boolean).join(' · '),
      iconPath: icon,
      take,
    };
  });
}

export function isUri(value: unknown): value is vscode.Uri {
  return value instanceof vscode.Uri;
}

function activeDocument(): vscode.Uri | undefined {
  const input = vscode.window.tabGroups.activeTabGroup.activeTab?.input;
  if (input instanceof vscode.TabInputText || input instanceof vscode.TabInputCustom) {
    return input.uri.scheme === 'shimwright' ? undefined : input.uri;
  }
  return input instanceof vscode.TabInputTextDiff ? input.original : undefined;
}
