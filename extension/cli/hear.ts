/** shimwright hear: a take as it sounds now and as it would after its advice, as two WAV files. */
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { InputProblem } from '../../analysis/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import type { Terminal } from './terminal.ts';

/** A folder of its own: files beside the recording would be taken for recordings. */
const folderName = 'hear';

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
  if (report.advice.settings.length === 0)
    throw new InputProblem(
      take.shown,
      '',
      'its advice changes nothing, so there is nothing to hear',
      'listen to the recording',
    );

  const { machine } = await readMachineFolder(root, shownRoot);
  const { openSources } = await import('../files/read.ts');
  const { readTake } = await import('../../analysis/take/read.ts');
  const { mixed, moveHits, movesOf, waveFile } = await import('../../analysis/report/hear-before.ts');
  const sources = await openSources(root, take.folder, take.shown);
  const before: Float32Array[] = [];
  const after: Float32Array[] = [];
  let sampleRate = 0;
  let tied = 0;
  try {
    const { tracks } = await readTake(take.name, sources.files, machine, {}, { signal });
    for (const [t, track] of tracks.entries()) {
      signal.throwIfAborted();
      if (sampleRate !== 0 && track.sampleRate !== sampleRate)
        throw new InputProblem(
          join(take.shown, track.file),
          '',
          `is at ${track.sampleRate} Hz, the first track at ${sampleRate} Hz`,
          'export all tracks at one rate',
        );
      sampleRate = track.sampleRate;
      const samples = await track.read(0, track.length);
      const moved = moveHits(samples, sampleRate, movesOf(report, t));
      before.push(samples);
      after.push(moved.samples);
      tied += moved.tied;
    }
  } finally {
    await sources.close();
  }
  if (before.length === 0)
    throw new InputProblem(take.shown, '', 'has no audio, only markers', 'record it to hear it');
  const mix = mixed(before, after);
  const { writeWhole } = await import('../files/write.ts');
  const folder = join(take.folder, folderName);
  await mkdir(folder, { recursive: true });
  await writeWhole(
    root,
    [
      { path: join(folder, 'before.wav'), bytes: waveFile(mix.before, sampleRate) },
      { path: join(folder, 'after.wav'), bytes: waveFile(mix.after, sampleRate) },
    ],
    signal,
  );
  terminal.print(`As it is: ${join(take.shown, folderName, 'before.wav')}`);
  terminal.print(`As advised: ${join(take.shown, folderName, 'after.wav')}`);
  if (tied > 0)
    terminal.print(`${tied} hits lie too close to the one before on their track and moved with it.`);
  return ok;
}
