import type { Uri } from 'vscode';

/** A file's or folder's own name, the last part of its address. */
export function nameOf({ path }: Uri): string {
  return path.slice(path.lastIndexOf('/') + 1);
}
