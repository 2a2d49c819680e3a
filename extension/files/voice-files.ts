/** voices/<channel>.json of a machine's folder: read for an analysis, written from a take. */
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { savedVoiceText, voicesFolder, type SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import { savedVoices } from '../common/machine-folder.ts';
import { folderOnDisk } from './folder-reader.ts';
import { writeWhole } from './write.ts';

/** @throws InputProblem where a file is no saved voice */
export function readVoices(root: string, shown: string): Promise<SavedVoice[]> {
  return savedVoices(folderOnDisk(root, shown));
}

/** Writes each voice, whole, in place of the one saved before. */
export async function writeVoices(
  root: string,
  voices: readonly SavedVoice[],
  signal?: AbortSignal,
): Promise<void> {
  if (voices.length === 0) return;
  const folder = join(root, voicesFolder);
  await mkdir(folder, { recursive: true });
  const encoder = new TextEncoder();
  await writeWhole(
    root,
    voices.map((voice) => ({
      path: join(folder, `${voice.channel}.json`),
      bytes: encoder.encode(savedVoiceText(voice)),
    })),
    signal,
  );
}
