/** "Save Voices of Take": how each channel sounds in it, for other takes to begin and be known by. */
import * as vscode from 'vscode';
import { savedVoiceText, voicesFolder, type SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import { noVoiceHeard, savedWords } from '../common/saved-words.ts';
import { cancellable } from './cancellable.ts';
import { readWithin, writeWithin } from './disk.ts';
import { filesOf } from './hand-over.ts';
import { machineAt, voicesOf } from './machine-files.ts';
import { pickTake, type Clicked, type TakePlace } from './targets.ts';
import { said } from './words.ts';
import type { Workshop } from './workshop.ts';

/** @returns the channels whose voices were saved; null where no take was chosen */
export async function saveVoices(shop: Workshop, clicked: Clicked): Promise<string[] | null> {
  const take = await pickTake(shop, clicked);
  if (!take) return null;
  const { root, name } = take;
  const learnt = await cancellable(vscode.l10n.t('Learning how each channel sounds'), (signal) =>
    voicesIn(shop, take, signal),
  );
  if (learnt.saved.length === 0) throw noVoiceHeard(name, learnt);
  await keepVoices(shop, root, learnt.saved);
  void vscode.window.showInformationMessage(
    said(savedWords(learnt, (channel) => `${voicesFolder}/${channel}.json`).join('. ')),
  );
  return learnt.saved.map(({ channel }) => channel);
}

/** Writes them beside machine.jsonc, in place of those of the same channels. */
export async function keepVoices(
  shop: Workshop,
  root: vscode.Uri,
  voices: readonly SavedVoice[],
): Promise<void> {
  if (voices.length === 0) return;
  const folder = vscode.Uri.joinPath(root, voicesFolder);
  await vscode.workspace.fs.createDirectory(folder);
  const changes = [];
  for (const voice of voices) {
    const file = vscode.Uri.joinPath(folder, `${voice.channel}.json`);
    const bytes = new TextEncoder().encode(savedVoiceText(voice));
    changes.push({ file, bytes, before: await readWithin(root, file) });
  }
  await writeWithin(root, changes);
  shop.changed();
}

async function voicesIn(shop: Workshop, take: TakePlace, signal: AbortSignal) {
  const { root, folder, name } = take;
  if (shop.platform.reaches(folder)) {
    const order = { root: root.fsPath, shown: vscode.workspace.asRelativePath(root), take: folder.fsPath };
    return shop.thread.call('voicesOfFolder', order, { signal });
  }
  const [machine, voices] = await Promise.all([machineAt(root), voicesOf(root)]);
  return shop.thread.call('voicesOfFiles', { machine, name, files: await filesOf(take), voices }, { signal });
}
