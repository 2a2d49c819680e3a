/** voices/<channel>.json of a machine's folder: read for an analysis, written from a take. */
import { mkdir, readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import {
  readSavedVoice,
  savedVoiceText,
  voicesFolder,
  type SavedVoice,
} from '../../analysis/hits/learn/saved-voice.ts';
import { codeOf, asProblem } from './fault.ts';
import { asText, pathWithin, readBytes } from './read.ts';
import { writeWhole } from './write.ts';

const ending = '.json';

/**
 * @returns by channel's name; none where the folder is not there
 * @throws InputProblem where a file is no saved voice
 */
export async function readVoices(root: string, shown: string): Promise<SavedVoice[]> {
  const folder = join(root, voicesFolder);
  const names = await namesIn(folder).catch((error: unknown) => {
    throw asProblem(error, join(shown, voicesFolder), 'read');
  });
  const voices: SavedVoice[] = [];
  for (const name of names) {
    const file = join(shown, voicesFolder, name);
    const bytes = await readBytes(await pathWithin(root, folder, name, file), file);
    voices.push(readSavedVoice(file, asText(bytes, file)));
  }
  return voices;
}

/** When one was last saved, ms since 1970; −Infinity where there are none. */
export async function voicesSavedMs(root: string): Promise<number> {
  const folder = join(root, voicesFolder);
  const times = (await namesIn(folder).catch(() => [])).map((name) =>
    stat(join(folder, name)).then(
      ({ mtimeMs }) => mtimeMs,
      () => -Infinity,
    ),
  );
  return Math.max(-Infinity, ...(await Promise.all(times)));
}

async function namesIn(folder: string): Promise<string[]> {
  try {
    return (await readdir(folder)).filter((name) => name.endsWith(ending) && !name.startsWith('.')).sort();
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return [];
    throw error;
  }
}

/** Writes each voice, whole, in place of the one saved before. */
export async function writeVoices(
  root: string,
  voices: readonly SavedVoice[],
  signal?: AbortSignal,
): Promise<void> {
  const folder = join(root, voicesFolder);
  await mkdir(folder, { recursive: true });
  const encoder = new TextEncoder();
  await writeWhole(
    root,
    voices.map((voice) => ({
      path: join(folder, `${voice.channel}${ending}`),
      bytes: encoder.encode(savedVoiceText(voice)),
    })),
    signal,
  );
}
