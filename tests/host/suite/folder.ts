/** The workspace that the suite works in: made by tests/host/workspace.ts before the editor starts. */
import * as vscode from 'vscode';

export const root = () => vscode.workspace.workspaceFolders![0].uri;
export const at = (...path: string[]) => vscode.Uri.joinPath(root(), ...path);

export async function read(...path: string[]): Promise<string> {
  return new TextDecoder().decode(await vscode.workspace.fs.readFile(at(...path)));
}

export async function put(text: string, ...path: string[]): Promise<void> {
  await vscode.workspace.fs.writeFile(at(...path), new TextEncoder().encode(text));
}

export async function there(...path: string[]): Promise<boolean> {
  return vscode.workspace.fs.stat(at(...path)).then(
    () => true,
    () => false,
  );
}

export const run = <T>(command: string, ...args: unknown[]): Promise<T> =>
  Promise.resolve(vscode.commands.executeCommand<T>(`shimwright.${command}`, ...args));

/** `"installed"` of an adjuster, as machine.jsonc has it on the disk. */
export async function installed(id: string): Promise<number> {
  const text = await read('machine.jsonc');
  const match = new RegExp(`"id": "${id}"[^}]*\\}[^}]*\\}[^}]*?"installed": (-?\\d+)`, 's').exec(text);
  return Number(match?.[1]);
}
