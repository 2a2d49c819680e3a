/** shimwright voices: how channels sound, saved from a take for others in which they never strike alone. */
import { join } from 'node:path';
import { ok, type Command, type Given } from './command.ts';
import { takeNamed } from './named.ts';
import type { Terminal } from './terminal.ts';

export const voices: Command = {
  name: 'voices',
  usage: 'TAKE [--quiet]',
  summary: 'saves how each channel sounds in a take, for other takes to begin and be known by',
  flags: [],
  help: [
    'TAKE is a take’s folder, or a file in it: best one in which each channel strikes alone, with a microphone of its',
    'own or by itself ("tracks" with one channel). Writes voices/<channel>.json beside machine.jsonc, in place of',
    'those saved before; commit them with the machine. A voice serves takes of its own sampling rate.',
    '',
    'From then on a channel begins at the same instant of its sound in every take, so that takes compare. Saved',
    'anew it still begins where it did; remove its file first to have that told anew.',
    '',
    '  --quiet   no progress, results only',
  ].join('\n'),
  run: runVoices,
};

async function runVoices(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const named = await takeNamed(voices, given, 'shimwright voices takes/solo');
  const { path, take, root, shownRoot } = named;
  const { withThread } = await import('./threads.ts');
  const learnt = await withThread(signal, (thread) =>
    thread.call(
      'voicesOfFolder',
      { root, shown: shownRoot, take: path },
      { signal, progress: (stage, fraction) => terminal.progress(take.shown, stage, fraction) },
    ),
  );
  terminal.progressDone();
  const { noVoiceHeard, savedWords } = await import('../common/saved-words.ts');
  if (learnt.saved.length === 0) throw noVoiceHeard(take.shown, learnt);
  const { writeVoices } = await import('../files/voice-files.ts');
  const { voicesFolder } = await import('../../analysis/hits/learn/saved-voice.ts');
  await writeVoices(root, learnt.saved, signal);
  const place = (channel: string) => join(shownRoot, voicesFolder, `${channel}.json`);
  for (const line of savedWords(learnt, place)) terminal.print(line);
  return ok;
}
