/** The way in on a desktop and on a remote host ("main" of the manifest). */
import { availableParallelism } from 'node:os';
import type * as vscode from 'vscode';
import { start } from './index.ts';
import { startNodeWorker } from '../work/start-node.ts';

export function activate(context: vscode.ExtensionContext) {
  return start(context, {
    startWorker: (dist) => Promise.resolve(startNodeWorker(dist.fsPath)),
    cores: () => availableParallelism(),
    reaches: ({ scheme }) => scheme === 'file',
    importable: (module) => Promise.resolve(module.toString()),
  });
}
