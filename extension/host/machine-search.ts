/** Which folders of the workspace hold a machine, and what to watch in them. */
import * as vscode from 'vscode';

/** A workspace with more machines than this shows the first ones found. */
const mostMachines = 50;

/** Changes come in bursts: a recorder writes eight files, git checks out a hundred. */
const settleMs = 250;

/** File systems that the editor searches. Of any other one it waits, for ever, for an extension that can. */
const searchable = ['file', 'vscode-remote'];

export async function findMachines(): Promise<vscode.Uri[]> {
  const folders = (vscode.workspace.workspaceFolders ?? []).map(({ uri }) => uri);
  const roots = (await Promise.all(folders.map(machinesIn))).flat();
  const byAddress = new Map(roots.map((root) => [root.toString(), root]));
  return [...byAddress.values()].sort((a, b) => (a.path < b.path ? -1 : 1));
}

/** Machines at any depth; where the search is missing or finds none, in the folder itself and those directly in it. */
async function machinesIn(folder: vscode.Uri): Promise<vscode.Uri[]> {
  const found = searchable.includes(folder.scheme) ? await searched(folder) : [];
  const asked = [folder, ...(found.length > 0 ? [] : await foldersIn(folder))];
  const has = await Promise.all(asked.map((each) => exists(vscode.Uri.joinPath(each, 'machine.jsonc'))));
  return [...asked.filter((_, i) => has[i]).slice(0, mostMachines), ...found];
}

/** Of a folder on disk; empty too where the editor's search program is missing, of which it says so or finds nothing. */
async function searched(folder: vscode.Uri): Promise<vscode.Uri[]> {
  const wanted = new vscode.RelativePattern(folder, '**/machine.jsonc');
  const found = await vscode.workspace
    .findFiles(wanted, '**/{node_modules,.git}/**', mostMachines)
    .then(undefined, () => []);
  return found.map((file) => vscode.Uri.joinPath(file, '..'));
}

async function foldersIn(folder: vscode.Uri): Promise<vscode.Uri[]> {
  const entries = await vscode.workspace.fs.readDirectory(folder).then(undefined, () => []);
  return entries.flatMap(([name, type]) =>
    (type & vscode.FileType.Directory) === 0 ? [] : [vscode.Uri.joinPath(folder, name)],
  );
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
