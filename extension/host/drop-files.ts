/** Files dropped on the view make a new take. */
import * as vscode from 'vscode';
import type { NewFile } from './create-take.ts';
import { guarded, trusted } from './faults.ts';
import type { Node } from './take-view.ts';
import type { Workshop } from './workshop.ts';

export function dropFiles(shop: Workshop): vscode.TreeDragAndDropController<Node> {
  return {
    dragMimeTypes: [],
    dropMimeTypes: ['text/uri-list', 'files'],
    async handleDrop(target, data) {
      const files = await filesIn(data);
      if (files.length === 0 || !(await trusted())) return;
      const { createTake } = await import('./create-take.ts');
      await guarded(shop, {}, () => createTake(shop, target, files));
    },
  };
}

async function filesIn(data: vscode.DataTransfer): Promise<NewFile[]> {
  const list = await data.get('text/uri-list')?.asString();
  if (list)
    return list
      .split(/\r?\n/)
      .filter((line) => line !== '' && !line.startsWith('#'))
      .map((line) => vscode.Uri.parse(line));
  const files: NewFile[] = [];
  for (const [, item] of data) {
    const file = item.asFile();
    if (file) files.push({ name: file.name, bytes: await file.data() });
  }
  return files;
}
