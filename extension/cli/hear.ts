/** shimwright hear: a take as it sounds now and as it would after its advice, as two WAV files. */
import { join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
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
  const [path, ...more] = given.paths;
  if (path === undefined)
    throw mistake(hear, 'no take was named', 'give the take’s folder: shimwright hear takes/may');
  if (more.length > 0) throw mistake(hear, `one take at a time, and ${more.length + 1} were named`);
  const { locate, readMachineFolder } = await import('../files/machine-folder.ts');
  const { root, shownRoot, take } = await locate(path);
  if (take === null) throw new InputProblem(path, '', 'is the machine’s folder', 'name one of its takes');
  const { readReport } = await import('../files/report-file.ts');
  const report = await readReport(root, take.folder, take.shown);
  if (report === null)
    throw new InputProblem(take.shown, '', 'was not analysed yet', `shimwright analyze ${take.shown}`);
  const { machine } = await readMachineFolder(root, shownRoot);
  const { writeHeard } = await import('../files/hear-folder.ts');
  const { before, after, tied } = await writeHeard(root, take, machine, report, { signal });
  terminal.print(`As it is: ${join(take.shown, before)}`);
  terminal.print(`As advised: ${join(take.shown, after)}`);
  if (tied > 0)
    terminal.print(`${tied} hits lie too close to the one before on their track and moved with it.`);
  return ok;
}
