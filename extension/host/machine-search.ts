/** Which folders of the workspace hold a machine, and what to watch in them. */
import * as vscode from 'vscode';

/** A workspace with more machines than this shows the first ones found. */
const mostMachines = 50;

/** Changes come in bursts: a recorder writes eight files, git checks out a hundred. */
const settleMs = 250;

/** Root folders are asked directly, since virtual workspaces may have no search; deeper ones are searched for. */
export async function findMachines(): Promise<vscode.Uri[]> {
  const folders = vscode.workspace.workspaceFolders ?? [];
  const direct = await Promise.all(
    folders.map(async ({ uri }) => ((await exists(vscode.Uri.joinPath(uri, 'machine.jsonc'))) ? [uri] : [])),
  );
  const found = await vscode.workspace
    .findFiles('**/machine.jsonc', '**/{node_modules,.git}/**', mostMachines)
    .then(undefined, () => []); // no search here
  const roots = [...direct.flat(), ...found.map((file) => vscode.Uri.joinPath(file, '..'))];
  const byAddress = new Map(roots.map((root) => [root.toString(), root]));
  return [...byAddress.values()].sort((a, b) => (a.path < b.path ? -1 : 1));
}

export async function exists(uri: vscode.Uri): Promise<boolean> {
  return vscode.workspace.fs.stat(uri).then(
    () => true,
    () => false,
  );
}

/** Calls `changed` once after each burst of changes to files that a verdict rests on. */
export function watchMachines(changed: () => void): vscode.Disposable {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(changed, settleMs);
  };
  const parts = ['**/*.{jsonc,csv,mid}', '**/takes/**'].flatMap((pattern) => {
    const watcher = vscode.workspace.createFileSystemWatcher(pattern);
    return [watcher, watcher.onDidCreate(soon), watcher.onDidChange(soon), watcher.onDidDelete(soon)];
  });
  parts.push(vscode.workspace.onDidChangeWorkspaceFolders(soon), { dispose: () => clearTimeout(timer) });
  return vscode.Disposable.from(...parts);
}
