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

export const problemsIn = (name: string) =>
  vscode.languages.getDiagnostics(at(name)).filter(({ source }) => source === 'Shimwright');
export const report = async (take: string) =>
  JSON.parse(await read('takes', take, 'report.json')) as {
    findings: { kind: string; step?: number; foundStep?: number; message: string }[];
    groups: { channel: string; sector: string | null; meanMs: number }[];
  };

export function textOf(hovers: readonly vscode.Hover[]): string {
  return hovers
    .flatMap(({ contents }) => contents)
    .map((part) => (typeof part === 'string' ? part : part.value))
    .join('\n');
}

/** What a command that analyses returns. */
export type TakeReport = Awaited<ReturnType<typeof report>>;
