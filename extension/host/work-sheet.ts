/** "Write Work Sheet": what to do at the machine, as a page beside machine.jsonc and in a tab. */
import * as vscode from 'vscode';
import { sheetFile } from '../../analysis/report/own-file.ts';
import { refuseOthers } from '../common/others-file.ts';
import { readWithin, writeWithin } from './disk.ts';
import { proposalFor } from './proposal.ts';
import { pickMachine, type Clicked } from './targets.ts';
import { said, shown } from './words.ts';
import type { Workshop } from './workshop.ts';

/** @returns where it was written; null where no machine was chosen */
export async function writeWorkSheet(shop: Workshop, clicked: Clicked): Promise<vscode.Uri | null> {
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const file = vscode.Uri.joinPath(root, sheetFile.name);
  const before = await readWithin(root, file);
  refuseOthers(sheetFile, before === null ? null : new TextDecoder().decode(before));
  const { machine, newest, advice } = await proposalFor(shop, root);
  const text = await shop.thread.call('sheet', { machine, newest, advice });
  await writeWithin(root, [{ file, bytes: new TextEncoder().encode(text), before }]);
  const panel = vscode.window.createWebviewPanel(
    'shimwright.sheet',
    vscode.l10n.t('Work sheet: {0}', shown(machine.description.name)),
    vscode.ViewColumn.Active,
    { enableScripts: false, localResourceRoots: [] },
  );
  panel.webview.html = text;
  const open = vscode.l10n.t('Open to Print');
  void vscode.window
    .showInformationMessage(said(vscode.l10n.t('The work sheet is in {0}.', sheetFile.name)), open)
    .then(async (chosen) => {
      if (chosen === open) await vscode.env.openExternal(file);
    });
  return file;
}
