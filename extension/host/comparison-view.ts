/** Two takes over each other in a tab: nothing runs in it, and nothing loads but the style sheet. */
import * as vscode from 'vscode';
import { stillPage } from './still-page.ts';
import { shown } from './words.ts';
import type { Workshop } from './workshop.ts';

export const comparisonView = 'shimwright.comparison';

interface Shown {
  readonly panel: vscode.WebviewPanel;
  /** The same as Markdown. */
  readonly uri: vscode.Uri;
}
const open = new Map<string, Shown>();

/** In its tab where it has one, else in a new one. */
export function showComparisonPage(shop: Workshop, uri: vscode.Uri, title: string, page: string): void {
  const dist = vscode.Uri.joinPath(shop.extensionUri, 'dist');
  const known = open.get(uri.path);
  const panel =
    known?.panel ??
    vscode.window.createWebviewPanel(comparisonView, '', vscode.ViewColumn.Active, {
      enableScripts: false,
      localResourceRoots: [dist],
    });
  panel.title = vscode.l10n.t('Compare: {0}', shown(title));
  const { webview } = panel;
  const style = webview.asWebviewUri(vscode.Uri.joinPath(dist, 'view-style.css')).toString();
  webview.html = stillPage(webview.cspSource, style, 'Shimwright comparison', page);
  if (known) return known.panel.reveal();
  open.set(uri.path, { panel, uri });
  panel.onDidDispose(() => open.delete(uri.path));
}

/** The comparison that the person looks at, as Markdown. */
export function comparisonOnTop(): vscode.Uri | undefined {
  return [...open.values()].find(({ panel }) => panel.active)?.uri;
}
