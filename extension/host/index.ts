/**
 * host/: Shimwright in VS Code. This file registers everything and does nothing else: what a command needs is loaded
 * when it runs, and analysis runs on a thread of its own (work/). node.ts and web.ts are the two ways in.
 */
import * as vscode from 'vscode';
import { exportsOf, type ShimwrightExports } from './api.ts';
import { dropFiles } from './drop-files.ts';
import { guarded, openAt, trusted } from './faults.ts';
import { findMachines, watchMachines } from './machine-search.ts';
import { TakeView } from './take-view.ts';
import { scheme, virtualTexts } from './virtual-texts.ts';
import { openBench } from './work/call.ts';
import type { Clicked } from './targets.ts';
import type { Platform, Workshop } from './workshop.ts';
import type { Finding } from '../../analysis/results.ts';

export function start(context: vscode.ExtensionContext, platform: Platform): ShimwrightExports {
  const shop = openWorkshop(context, platform);
  const { subscriptions } = context;
  const view = vscode.window.createTreeView('shimwright.takes', {
    treeDataProvider: new TakeView(shop),
    dragAndDropController: dropFiles(shop),
    showCollapseAll: true,
  });
  const tables = { pattern: '**/*.csv' };
  subscriptions.push(
    view,
    vscode.workspace.registerTextDocumentContentProvider(scheme, virtualTexts),
    vscode.languages.registerHoverProvider(tables, {
      provideHover: async (document, at) => (await import('./pin-hover.ts')).pinHover(document, at),
    }),
    vscode.languages.registerCodeActionsProvider(tables, {
      provideCodeActions: async (document, range, about, token) =>
        (await import('./quick-fixes.ts')).quickFixes.provideCodeActions(document, range, about, token),
    }),
    vscode.window.registerWebviewPanelSerializer('shimwright.report', {
      deserializeWebviewPanel: async (panel, state) =>
        (await import('./report-panel.ts')).reportSerializer(shop).deserializeWebviewPanel(panel, state),
    }),
    shop.onChange(() => void refresh(shop)),
    ...commandsOf(shop),
  );
  shop.changed();
  return exportsOf(shop);
}

function openWorkshop(context: vscode.ExtensionContext, platform: Platform): Workshop {
  const log = vscode.window.createOutputChannel('Shimwright', { log: true });
  const dist = vscode.Uri.joinPath(context.extensionUri, 'dist');
  const bench = openBench(() => platform.startWorker(dist));
  const change = new vscode.EventEmitter<void>();
  let machines: Promise<readonly vscode.Uri[]> | undefined;
  const changed = () => {
    machines = undefined;
    change.fire();
  };
  context.subscriptions.push(log, bench, change, watchMachines(changed));
  return {
    extensionUri: context.extensionUri,
    platform,
    log,
    bench,
    modules: new Set(),
    machines: () => (machines ??= findMachines()),
    onChange: change.event,
    changed,
  };
}

/** What is shown beside the view follows it. */
async function refresh(shop: Workshop): Promise<void> {
  const machines = await shop.machines();
  await vscode.commands.executeCommand('setContext', 'shimwright.hasMachine', machines.length > 0);
  await guarded(shop, {}, async () => (await import('./diagnostics.ts')).showFindings(shop));
}

/** Commands by name. Those that write or run anything ask for trust first, whatever the menus say. */
function commandsOf(shop: Workshop): vscode.Disposable[] {
  const register = (name: string, run: (...args: never[]) => unknown) =>
    vscode.commands.registerCommand(`shimwright.${name}`, run);
  const reading = <A extends unknown[], T>(name: string, run: (...args: A) => Promise<T>) =>
    register(name, (...args: A) => guarded(shop, aroundOf(args[0]), () => run(...args)));
  const writing = <A extends unknown[], T>(name: string, run: (...args: A) => Promise<T>) =>
    reading(name, async (...args: A) => ((await trusted()) ? run(...args) : undefined));
  const settings = () => import('./settings.ts');
  return [
    writing('analyseTake', async (clicked: Clicked) =>
      (await import('./analyse.ts')).analyseTake(shop, clicked),
    ),
    writing('analyseStaleTakes', async (clicked: Clicked) =>
      (await import('./analyse.ts')).analyseStaleTakes(shop, clicked),
    ),
    writing('createMachine', async (into?: vscode.Uri, answers?: never) =>
      (await import('./create-machine.ts')).createMachine(shop, into, answers),
    ),
    writing('createDemoMachine', async (into?: vscode.Uri) =>
      (await import('./create-machine.ts')).createDemoMachine(shop, into),
    ),
    writing('createTake', async (clicked: Clicked, files?: never, name?: string) =>
      (await import('./create-take.ts')).createTake(
        shop,
        clicked,
        Array.isArray(files) ? files : undefined,
        name,
      ),
    ),
    reading('openReport', async (clicked: Clicked) =>
      (await import('./open-report.ts')).openReport(shop, clicked),
    ),
    writing('reviewSettings', async (clicked: Clicked) => (await settings()).reviewSettings(shop, clicked)),
    writing('acceptAllSettings', async (clicked: Clicked, done?: unknown) =>
      (await settings()).acceptAllSettings(shop, clicked, done === true),
    ),
    writing('acceptSomeSettings', async (clicked: Clicked, chosen?: unknown) =>
      (await settings()).acceptSomeSettings(
        shop,
        clicked,
        Array.isArray(chosen) ? chosen.map(String) : undefined,
      ),
    ),
    writing('enterFittedSettings', async (clicked: Clicked, fitted?: unknown) =>
      (await settings()).enterFittedSettings(shop, clicked, fittedIn(fitted)),
    ),
    writing('commitCalibration', async (clicked: Clicked) =>
      (await import('./commit.ts')).commitCalibration(shop, clicked),
    ),
    reading('compareTakes', async (clicked: Clicked, names?: unknown) =>
      (await import('./compare.ts')).compareTakes(shop, clicked, pairIn(names)),
    ),
    reading('compareCommits', async (clicked: Clicked, commits?: unknown) =>
      (await import('./compare.ts')).compareCommits(shop, clicked, pairIn(commits)),
    ),
    reading('copyComparison', async (uri?: vscode.Uri) => (await import('./compare.ts')).copyComparison(uri)),
    writing('notePin', async (root: vscode.Uri, finding: Finding) =>
      (await import('./quick-fixes.ts')).notePin(root, finding),
    ),
    reading('showFinding', async (root: vscode.Uri, take: vscode.Uri, finding: Finding) => {
      const place = await (await import('./diagnostics.ts')).placeOfFinding(root, take, finding);
      if (place) await openAt(...place);
      else await vscode.commands.executeCommand('shimwright.openReport', take);
    }),
    register('refreshTakes', () => shop.changed()),
    register('showLog', () => shop.log.show()),
  ];
}

function aroundOf(clicked: unknown) {
  const [root] = vscode.workspace.workspaceFolders ?? [];
  if (typeof clicked !== 'object' || clicked === null || !('root' in clicked)) return { root: root?.uri };
  const { root: own, take } = clicked as { root: vscode.Uri; take?: { folder: vscode.Uri } };
  return { root: own, take: take?.folder };
}

/** Menus pass arguments of their own after the first; only what callers give on purpose is taken. */
function pairIn<T>(value: unknown): readonly [string, T] | undefined {
  const isPair = Array.isArray(value) && value.length === 2 && typeof value[0] === 'string';
  return isPair ? (value as unknown as readonly [string, T]) : undefined;
}

function fittedIn(value: unknown): Readonly<Record<string, number>> | undefined {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return undefined;
  const entries = Object.entries(value);
  return entries.every(([, setting]) => typeof setting === 'number') && entries.length > 0
    ? (value as Record<string, number>)
    : undefined;
}
