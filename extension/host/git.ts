/** The part of the built-in Git extension's interface, version 1, that is used here. Git may be absent. */
import * as vscode from 'vscode';

export interface Commit {
  readonly hash: string;
  readonly message: string;
  readonly authorDate?: Date;
  readonly authorName?: string;
}

export interface Repository {
  readonly rootUri: vscode.Uri;
  readonly inputBox: { value: string };
  readonly state: {
    readonly HEAD: { readonly commit?: string } | undefined;
    readonly indexChanges: readonly { readonly uri: vscode.Uri }[];
  };
  add(paths: string[]): Promise<void>;
  status(): Promise<void>;
  log(options: { readonly maxEntries: number; readonly path: string }): Promise<Commit[]>;
  /** A file's text in a commit. */
  show(revision: string, path: string): Promise<string>;
}

interface Api {
  getRepository(uri: vscode.Uri): Repository | null;
  openRepository(root: vscode.Uri): Promise<Repository | null>;
}

interface GitExtension {
  readonly enabled: boolean;
  getAPI(version: 1): Api;
}

/** The repository that holds a folder; null where there is none, or no Git here. */
export async function repositoryOf(folder: vscode.Uri): Promise<Repository | null> {
  // Git would take another file system's path for one of the disk.
  if (folder.scheme !== 'file') return null;
  const extension = vscode.extensions.getExtension<GitExtension>('vscode.git');
  if (!extension) return null;
  const git = extension.isActive ? extension.exports : await extension.activate();
  if (!git.enabled) return null;
  const api = git.getAPI(1);
  return api.getRepository(folder) ?? (await api.openRepository(folder));
}

/** Says that comparing and committing need Git here. */
export function sayNoGit(): void {
  void vscode.window.showInformationMessage(
    vscode.l10n.t('This folder is in no Git repository, or Git is not available here.'),
  );
}
