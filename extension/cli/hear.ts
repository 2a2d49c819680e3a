/** shimwright hear: a take as it sounds now and as it would after its advice, as two WAV files. */
import { join } from 'node:path';
import { ok, type Command, type Given } from './command.ts';
import { analysedTakeNamed } from './named.ts';
import type { Terminal } from './terminal.ts';

export const hear: Command = {
  name: 'hear',
  usage: 'TAKE [--quiet]',
  summary: 'writes a take as it sounds now and as it would after its advice',
  flags: [],
  help: [
    'TAKE is a take’s folder, or a file in it; it must have been analysed. Writes hear/before.wav and',
    'hear/after.wav into it: all tracks in one, every hit moved to where the advice predicts it.',
    '',
    '  --quiet   no progress, results only',
  ].join('\n'),
  run: runHear,
};

async function runHear(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const named = await analysedTakeNamed(hear, given, 'shimwright hear takes/may');
  const { root, shownRoot, take, report } = named;
  const { readMachineFolder } = await import('../files/machine-folder.ts');
  const { machine } = await readMachineFolder(root, shownRoot);
  const { writeHeard } = await import('../files/hear-folder.ts');
  const { before, after, tied } = await writeHeard(root, take, machine, report, { signal });
  terminal.print(`As it is: ${join(take.shown, before)}`);
  terminal.print(`As advised: ${join(take.shown, after)}`);
  if (tied > 0)
    terminal.print(`${tied} hits lie too close to the one before on their track and moved with it.`);
  return ok;
}
