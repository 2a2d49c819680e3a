/** What the first part (index.ts) hands everything to: loaded after activation, a file of its own in Node. */
import * as vscode from 'vscode';
import { commandsOf, type Commands } from './commands.ts';
import { barrelPreview } from './barrel-preview.ts';
import { mendAndTell } from './disk.ts';
import { dropFiles } from './drop-files.ts';
import { guarded } from './faults.ts';
import { digestThere } from './freshness.ts';
import { findMachines, watchMachines } from './machine-search.ts';
import { pinHover } from './pin-hover.ts';
import { quickFixes } from './quick-fixes.ts';
import { onMoreHeads } from './report-files.ts';
import { reportSerializer } from './report-panel.ts';
import { TakeView, type Node } from './take-view.ts';
import { scheme, virtualTexts } from './virtual-texts.ts';
import { openThread } from '../work/call.ts';
import type { Platform, Workshop } from './workshop.ts';

export interface Host {
  readonly commands: Commands;
  readonly view: TakeView;
  readonly drop: vscode.TreeDragAndDropController<Node>;
  readonly hover: typeof pinHover;
  readonly fixes: vscode.CodeActionProvider;
  readonly reports: vscode.WebviewPanelSerializer;
  readonly barrel: vscode.CustomTextEditorProvider;
}

/** What is made at activation already, since it is asked for before the rest is there. */
export interface Early {
  readonly context: vscode.ExtensionContext;
  readonly platform: Platform;
  readonly change: vscode.EventEmitter<void>;
  readonly modules: Set<vscode.Uri>;
}

export function openHost({ context, platform, change, modules }: Early): Host {
  const log = vscode.window.createOutputChannel('Shimwright', { log: true });
  const dist = vscode.Uri.joinPath(context.extensionUri, 'dist');
  const newThread = () => openThread(() => platform.startWorker(dist));
  const thread = newThread();
  digestThere(
    (folder) => platform.reaches(folder),
    ({ fsPath: root }, { fsPath: take }) =>
      thread.call('digestsOfFolder', { root, take, keep: vscode.workspace.isTrusted }),
  );
  let machines: Promise<readonly vscode.Uri[]> | undefined;
  const shop: Workshop = {
    extensionUri: context.extensionUri,
    platform,
    log,
    thread,
    openThread: newThread,
    modules,
    machines: () => (machines ??= findMachines()),
    onChange: change.event,
    changed: () => {
      machines = undefined;
      change.fire();
    },
  };
  context.subscriptions.push(
    log,
    thread,
    watchMachines(() => shop.changed()),
    onMoreHeads(() => change.fire()),
    vscode.workspace.registerTextDocumentContentProvider(scheme, virtualTexts),
    shop.onChange(() => void refresh(shop)),
  );
  shop.changed();
  return {
    commands: commandsOf(shop),
    view: new TakeView(shop),
    drop: dropFiles(shop),
    hover: pinHover,
    fixes: quickFixes,
    reports: reportSerializer(shop),
    barrel: barrelPreview(shop),
  };
}

/** What is shown beside the view follows it. */
async function refresh(shop: Workshop): Promise<void> {
  const machines = await shop.machines();
  const tell = (name: string, value: boolean) =>
    vscode.commands.executeCommand('setContext', `shimwright.${name}`, value);
  await tell('hasMachine', machines.length > 0);
  // Of a folder on no disk the editor cannot tell by itself whether to activate this: its view stands there until now.
  await tell('hasLooked', true);
  for (const root of machines) await guarded(shop, {}, () => mendAndTell(root));
  await guarded(shop, {}, async () => (await import('./diagnostics.ts')).showFindings(shop));
}
