/** A pattern as the editor's own kind of preview: the barrel unrolled, drawn anew as its rows are typed. */
import { Stopped } from '../work/stopped.ts';
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import { machineAt, machineDocument, machineOf, reportsOf, tuneOfPattern } from './machine-files.ts';
import { escaped } from './report-html.ts';
import { stillPage } from './still-page.ts';
import { isUri, machineAbove, pickMachine, type Clicked } from './targets.ts';
import { shown } from './words.ts';
import type { Workshop } from './workshop.ts';

export const barrelView = 'shimwright.barrel';

/** Long enough that typing a row is one drawing, short enough to see it follow. */
const settleMs = 250;

export function barrelPreview(shop: Workshop): vscode.CustomTextEditorProvider {
  return {
    resolveCustomTextEditor(document, panel) {
      const { webview } = panel;
      const dist = vscode.Uri.joinPath(shop.extensionUri, 'dist');
      webview.options = { enableScripts: false, localResourceRoots: [dist] };
      const style = webview.asWebviewUri(vscode.Uri.joinPath(dist, 'view-style.css')).toString();
      let drawn = '';
      let round = 0;
      let timer: ReturnType<typeof setTimeout> | undefined;
      const draw = async () => {
        const own = ++round;
        const { fault, words, svg } = await drawingOf(shop, document);
        if (own !== round) return; // a newer one is under way
        drawn = svg ?? drawn; // while a row is half typed the last drawing stays
        webview.html = stillPage(
          webview.cspSource,
          style,
          'Shimwright barrel',
          contentOf([fault, words], drawn),
        );
      };
      const soon = () => {
        clearTimeout(timer);
        timer = setTimeout(() => void draw(), settleMs);
      };
      const subscriptions = [
        shop.onChange(soon),
        vscode.workspace.onDidChangeTextDocument((event) => {
          const { path } = event.document.uri;
          if (event.document === document || path.endsWith('/machine.jsonc')) soon();
        }),
      ];
      panel.onDidDispose(() => {
        clearTimeout(timer);
        for (const subscription of subscriptions) subscription.dispose();
      });
      return draw();
    },
  };
}

/** Opens a pattern in it: the file that was clicked or is open, or else the machine's, of several tunes the first. */
export async function showBarrel(shop: Workshop, clicked: Clicked): Promise<vscode.Uri | null> {
  const file = isUri(clicked) && clicked.path.endsWith('.csv') ? clicked : await patternOf(shop, clicked);
  if (file !== null) await vscode.commands.executeCommand('vscode.openWith', file, barrelView);
  return file;
}

async function patternOf(shop: Workshop, clicked: Clicked): Promise<vscode.Uri | null> {
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const { description, tunes } = await machineAt(root);
  return vscode.Uri.joinPath(root, tunes?.at(0)?.pattern ?? description.pattern);
}

interface Drawing {
  /** Why there is no new one; null where there is. */
  readonly fault: string | null;
  /** What it shows. */
  readonly words: string | null;
  readonly svg: string | null;
}

const faulty = (fault: string): Drawing => ({ fault, words: null, svg: null });

async function drawingOf(shop: Workshop, document: vscode.TextDocument): Promise<Drawing> {
  try {
    const root = await machineAbove(vscode.Uri.joinPath(document.uri, '..'));
    if (root === null) return faulty(vscode.l10n.t('No machine.jsonc lies beside this file.'));
    const text = (await machineDocument(root)).getText();
    const machine = await machineOf(root, text, document);
    const own = tuneOfPattern(machine, root, document.uri);
    if (own === null)
      return faulty(vscode.l10n.t('machine.jsonc does not name this file as a pattern of its own.'));
    const { tune } = own;
    const report = (await reportsOf(root, machine)).findLast((each) => each.tune === tune) ?? null;
    const svg = await shop.thread.call('barrel', { machine, tune, report });
    if (svg === null) return faulty(vscode.l10n.t('It has more pins than a drawing can show apart.'));
    const words =
      report === null
        ? vscode.l10n.t('The pattern alone: no take of it has been analysed yet.')
        : vscode.l10n.t('Each pin as take {0} found it.', shown(report.take));
    return { fault: null, words, svg };
  } catch (error) {
    if (error instanceof InputProblem) return faulty(shown(error.message));
    if (!(error instanceof Stopped))
      shop.log.error(error instanceof Error ? (error.stack ?? error.message) : String(error));
    return faulty(vscode.l10n.t('It could not be drawn; the log says why.'));
  }
}

function contentOf(lines: readonly (string | null)[], svg: string): string {
  const said = lines.flatMap((line) => (line === null ? [] : [`<p role="status">${escaped(line)}</p>`]));
  return `${said.join('\n')}
<div class="barrel">${svg}</div>`;
}
