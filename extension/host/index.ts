/**
 * host/: Shimwright in VS Code. This file is the first part: it registers everything and does nothing, so that opening a
 * folder stays quick. All else is loaded after it (later.ts), and analysis runs on a thread of its own (work/). node.ts
 * and web.ts are the two ways in.
 */
import * as vscode from 'vscode';
import { exportsOf, type ShimwrightExports } from './api.ts';
import { commandNames } from './command-names.ts';
import type { Host } from './later.ts';
import type { Node } from './take-view.ts';
import type { Platform } from './workshop.ts';

export function start(context: vscode.ExtensionContext, platform: Platform): ShimwrightExports {
  const change = new vscode.EventEmitter<void>();
  const modules = new Set<vscode.Uri>();
  let opened: Promise<Host> | undefined;
  const host = () =>
    (opened ??= import('./later.ts').then(({ openHost }) =>
      openHost({ context, platform, change, modules }),
    ));
  const tables = { pattern: '**/*.csv' };
  context.subscriptions.push(
    change,
    vscode.window.createTreeView<Node>('shimwright.takes', {
      treeDataProvider: {
        onDidChangeTreeData: change.event,
        getChildren: async (node) => (await host()).view.getChildren(node),
        getTreeItem: async (node) => (await host()).view.getTreeItem(node),
      },
      dragAndDropController: {
        dragMimeTypes: [],
        dropMimeTypes: ['text/uri-list', 'files'],
        handleDrop: async (target, data, token) => (await host()).drop.handleDrop?.(target, data, token),
      },
      showCollapseAll: true,
    }),
    vscode.languages.registerHoverProvider(tables, {
      provideHover: async (document, at) => (await host()).hover(document, at),
    }),
    vscode.languages.registerCodeActionsProvider(tables, {
      provideCodeActions: async (...asked) => (await host()).fixes.provideCodeActions(...asked),
    }),
    vscode.window.registerWebviewPanelSerializer('shimwright.report', {
      deserializeWebviewPanel: async (panel, state) =>
        (await host()).reports.deserializeWebviewPanel(panel, state),
    }),
    vscode.window.registerCustomEditorProvider(
      'shimwright.barrel',
      {
        resolveCustomTextEditor: async (...asked) => (await host()).barrel.resolveCustomTextEditor(...asked),
      },
      { webviewOptions: { enableFindWidget: true } },
    ),
    ...commandNames.map((name) =>
      vscode.commands.registerCommand(`shimwright.${name}`, async (...args: never[]) =>
        (await host()).commands[name](...args),
      ),
    ),
  );
  // Not part of activation: the editor goes on with others before this is loaded.
  setTimeout(() => void host());
  return exportsOf(modules);
}
