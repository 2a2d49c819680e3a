/** The way in where only a browser runs the editor ("browser" of the manifest). */
import * as vscode from 'vscode';
import { start } from './index.ts';
import { startWebWorker } from './start-web.ts';

export function activate(context: vscode.ExtensionContext) {
  return start(context, {
    startWorker: startWebWorker,
    cores: () => navigator.hardwareConcurrency,
    reaches: () => false,
    importable: async (module) => new TextDecoder().decode(await vscode.workspace.fs.readFile(module)),
  });
}
