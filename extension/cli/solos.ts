/** shimwright solos: each striker struck by hand teaches how it sounds, and which microphone stands at it. */
import { basename, join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import type { Terminal } from './terminal.ts';

export const solos: Command = {
  name: 'solos',
  usage: 'MACHINE FILE... [--order A,B,C] [--quiet]',
  summary: 'learns how each striker sounds, and which microphone hears it, from solos by hand',
  flags: [],
  values: ['order'],
  help: [
    'With the drive off and locked, strike each striker by hand ten times, about a second apart, then leave silence for five',
    'seconds before the next one. FILE is that recording, with all its tracks, or one file for each striker, called as its',
    'channel (drum.wav). It stays where it is. Writes voices/<channel>.json beside machine.jsonc, as "voices" does, and says',
    'which track is at which striker, as lines for take.jsonc.',
    '',
    '  --order A,B,C  channels in the order in which they are struck; "-" for something else that was struck there. Without',
    '                 it the order of machine.jsonc',
    '  --quiet        no progress, results only',
    '',
    'shimwright solos . ~/recorder/solos.wav --order block,drum,bell',
  ].join('\n'),
  run: runSolos,
};

async function runSolos(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const [path, ...paths] = given.paths;
  if (path === undefined)
    throw mistake(
      solos,
      'no machine was named',
      'give its folder, then the recording: shimwright solos . solos.wav',
    );
  if (paths.length === 0)
    throw mistake(solos, 'no recording was named', `add it: shimwright solos ${path} solos.wav`);
  const { locate, readMachineFolder } = await import('../files/machine-folder.ts');
  const { root, shownRoot } = await locate(path);
  const { machine } = await readMachineFolder(root, shownRoot);
  const { orderIn, soloWords, tracksText } = await import('../common/solo-words.ts');
  const { repeated } = await import('../common/new-machine.ts');
  const typed = given.value('order');
  const order = typed === undefined ? null : orderIn(typed, machine, '--order');
  const names = paths.map((file) => basename(file));
  const twice = repeated(names);
  if (twice !== null) throw mistake(solos, `two files are called ${twice}`, 'rename one');
  const { withThread } = await import('./threads.ts');
  const heard = await withThread(signal, (thread) =>
    thread.call(
      'solosOnDisk',
      { root, shown: shownRoot, files: paths, order },
      { signal, progress: (stage, fraction) => terminal.progress(names[0], stage, fraction) },
    ),
  );
  terminal.progressDone();
  for (const line of soloWords(heard)) terminal.print(line);
  const { savedWords } = await import('../common/saved-words.ts');
  const { writeVoices } = await import('../files/voice-files.ts');
  const { voicesFolder } = await import('../../analysis/hits/learn/saved-voice.ts');
  await writeVoices(root, heard.learnt.saved, signal);
  const place = (channel: string) => join(shownRoot, voicesFolder, `${channel}.json`);
  for (const line of savedWords(heard.learnt, place)) terminal.print(line);
  const text = tracksText(heard);
  if (text !== null)
    terminal.print(
      `\nIn take.jsonc of takes with the microphones where they stand now, each with its own file's name:\n${text}`,
    );
  if (heard.learnt.saved.length > 0) return ok;
  throw new InputProblem(
    names.join(', '),
    '',
    'no striker was heard well enough to be learnt',
    'strike each ten times',
  );
}
