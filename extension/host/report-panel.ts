/** The report page in the editor: a tab for each take, found again rather than doubled, and restored after a reload. */
import * as vscode from 'vscode';
import { servicesFor } from './report-editor.ts';
import { reportHtml } from './report-html.ts';
import { ReportSession } from './report-session.ts';
import { takeAbove, type TakePlace } from './targets.ts';
import { shown as words } from './words.ts';
import type { Workshop } from './workshop.ts';

/** The panel's and the serializer's name. */
export const reportView = 'shimwright.report';

interface Shown {
  readonly panel: vscode.WebviewPanel;
  readonly session: ReportSession;
}
const open = new Map<string, Shown>();

/**
 * Shows a take's report: in its tab where it has one, else in a new one.
 *
 * @returns what answers the page
 */
export function showReport(shop: Workshop, take: TakePlace): ReportSession {
  const known = open.get(take.folder.toString());
  known?.panel.reveal();
  return (
    known?.session ??
    attach(
      shop,
      take,
      vscode.window.createWebviewPanel(reportView, words(take.name), vscode.ViewColumn.Active, {
        enableFindWidget: true,
      }),
    )
  );
}

/** Gives tabs their page again after the window was loaded anew. */
export function reportSerializer(shop: Workshop): vscode.WebviewPanelSerializer {
  return {
    async deserializeWebviewPanel(panel, state: unknown) {
      const address =
        typeof state === 'object' && state !== null && 'take' in state && typeof state.take === 'string'
          ? state.take
          : '';
      const take = address === '' ? null : await takeAbove(vscode.Uri.parse(address));
      // The folder may be gone, or another one is open now.
      if (take === null || open.has(take.folder.toString())) panel.dispose();
      else attach(shop, take, panel);
    },
  };
}

function attach(shop: Workshop, take: TakePlace, panel: vscode.WebviewPanel): ReportSession {
  const { webview } = panel;
  const address = take.folder.toString();
  const dist = vscode.Uri.joinPath(shop.extensionUri, 'dist');
  const session = new ReportSession(
    address,
    servicesFor(shop, take),
    (message) => void webview.postMessage(message),
    (error) => shop.log.error(error instanceof Error ? (error.stack ?? error.message) : String(error)),
  );
  open.set(address, { panel, session });
  // The only place that says what a page may do and load, for new and for restored ones.
  webview.options = { enableScripts: true, localResourceRoots: [dist] };
  panel.title = vscode.l10n.t('Report: {0}', words(take.name));

  // What the page reads when it is ready is at least as new: it is not made anew under the person's hands for nothing.
  let shown = fingerprint(take);
  const refresh = async (always: boolean) => {
    const now = fingerprint(take);
    if ((await now) === (await shown) && !always) return;
    shown = now;
    await session.refresh();
  };
  const fail = (error: unknown) => shop.log.error(String(error));
  const subscriptions = [
    webview.onDidReceiveMessage((message: unknown) => {
      void session.receive(message);
    }),
    shop.onChange(() => void refresh(false).catch(fail)),
    vscode.workspace.onDidGrantWorkspaceTrust(() => void refresh(true).catch(fail)),
  ];
  panel.onDidDispose(() => {
    open.delete(address);
    for (const subscription of subscriptions) subscription.dispose();
    session.close();
  });
  const at = (name: string) => webview.asWebviewUri(vscode.Uri.joinPath(dist, name)).toString();
  webview.html = reportHtml(at('view.js'), at('view-style.css'), newNonce());
  return session;
}

/** Another value where the page would show something else. */
async function fingerprint({ root, folder }: TakePlace): Promise<string> {
  const files = [
    ...['report.json', 'corrections.csv'].map((name) => vscode.Uri.joinPath(folder, name)),
    // Its advice is of the machine as it is now, and a newer take takes its place.
    ...['machine.jsonc', 'takes'].map((name) => vscode.Uri.joinPath(root, name)),
  ];
  const parts = await Promise.all(
    files.map((file) =>
      vscode.workspace.fs.stat(file).then(
        ({ mtime, size }) => `${mtime} ${size}`,
        () => 'none',
      ),
    ),
  );
  return parts.join(', ');
}

function newNonce(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(24));
  return btoa(String.fromCharCode(...bytes));
}
