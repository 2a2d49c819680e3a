/**
 * An extension that keeps a folder on no disk: `shelf:/` is a copy of the machine's folder that the tests made. A second
 * copy has the very path that the folder has on the disk: whoever takes such a path for one of the disk is found out.
 */
import * as vscode from 'vscode';
import { MemoryFiles } from '../suite/memory.ts';

export async function activate(context: vscode.ExtensionContext): Promise<void> {
  const files = new MemoryFiles();
  const { extensionUri } = vscode.extensions.getExtension('shimwright.shimwright')!;
  const source = vscode.Uri.joinPath(extensionUri, '..', 'folder-virtual');
  for (const path of ['/', source.path])
    await copy(source, vscode.Uri.from({ scheme: 'shelf', path }), files);
  context.subscriptions.push(vscode.workspace.registerFileSystemProvider('shelf', files));
}

async function copy(from: vscode.Uri, to: vscode.Uri, files: MemoryFiles): Promise<void> {
  for (const [name, type] of await vscode.workspace.fs.readDirectory(from)) {
    if (name.startsWith('.')) continue;
    const [inner, copied] = [vscode.Uri.joinPath(from, name), vscode.Uri.joinPath(to, name)];
    if (type === vscode.FileType.Directory) await copy(inner, copied, files);
    else files.writeFile(copied, await vscode.workspace.fs.readFile(inner));
  }
}
