/** Texts that exist only in the editor: proposed settings and comparisons. They are read-only and never on the disk. */
import * as vscode from 'vscode';

export const scheme = 'shimwright';

/** More than anyone keeps open; the oldest go first. */
const mostTexts = 40;

const texts = new Map<string, string>();
const changed = new vscode.EventEmitter<vscode.Uri>();

/**
 * @param path tells the texts apart and ends with the name that the editor shows
 * @returns the address under which the editor opens the text
 */
export function publish(path: readonly string[], text: string): vscode.Uri {
  const uri = vscode.Uri.from({
    scheme,
    path: `/${path.map((part) => part.replaceAll('/', '∕')).join('/')}`,
  });
  texts.delete(uri.path);
  texts.set(uri.path, text);
  if (texts.size > mostTexts) texts.delete(texts.keys().next().value!);
  changed.fire(uri);
  return uri;
}

export function textAt({ path }: vscode.Uri): string | undefined {
  return texts.get(path);
}

export const virtualTexts: vscode.TextDocumentContentProvider = {
  onDidChange: changed.event,
  provideTextDocumentContent: (uri) => textAt(uri) ?? '',
};
