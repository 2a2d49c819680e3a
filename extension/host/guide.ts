/** "Open the Guide": the pages that ship with the extension, read in the editor. */
import * as vscode from 'vscode';
import { guidePages } from '../common/guide-pages.ts';
import { exists } from './machine-search.ts';
import type { Workshop } from './workshop.ts';

/**
 * @param asked a page's name, for callers that know which
 * @returns the page that was opened; null where none was chosen
 */
export async function openGuide({ extensionUri }: Workshop, asked?: string): Promise<vscode.Uri | null> {
  const name =
    asked ??
    (
      await vscode.window.showQuickPick(
        guidePages.map(([name, label]) => ({ name, label })),
        { title: vscode.l10n.t('Which page of the guide?') },
      )
    )?.name;
  if (name === undefined) return null;
  const packaged = vscode.Uri.joinPath(extensionUri, 'guide');
  const folder = (await exists(packaged))
    ? packaged
    : vscode.Uri.joinPath(extensionUri, 'extension', 'guide');
  const page = vscode.Uri.joinPath(folder, `${name}.md`);
  await vscode.commands.executeCommand('markdown.showPreview', page);
  return page;
}
