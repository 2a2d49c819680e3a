/** shimwright strokes: every stroke of a take as CSV, for a spreadsheet or another program. */
import { InputProblem } from '../../analysis/input/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import type { Terminal } from './terminal.ts';

export const strokes: Command = {
  name: 'strokes',
  usage: 'TAKE',
  summary: 'prints every stroke of a take as CSV, for a spreadsheet',
  flags: [],
  help: [
    'TAKE is a take’s folder, or a file in it; it must have been analysed. Prints a row for each hit: its time, channel, turn,',
    'step, sector, lateness, the standard deviation of its time, level, whether it was used and, if not, why. Words that a',
    'spreadsheet would take for a formula are kept from it by an apostrophe. Keep the file elsewhere than in the take’s folder,',
    'where it would be read as markers.',
    '',
    'shimwright strokes takes/may > may-strokes.csv',
  ].join('\n'),
  run: runStrokes,
};

async function runStrokes(given: Given, terminal: Terminal): Promise<number> {
  const [path, ...more] = given.paths;
  if (path === undefined)
    throw mistake(strokes, 'no take was named', 'give the take’s folder: shimwright strokes takes/may');
  if (more.length > 0) throw mistake(strokes, `one take at a time, and ${more.length + 1} were named`);
  const { locate } = await import('../files/machine-folder.ts');
  const { root, take } = await locate(path);
  if (take === null) throw new InputProblem(path, '', 'is the machine’s folder', 'name one of its takes');
  const { readReport } = await import('../files/report-file.ts');
  const report = await readReport(root, take.folder, take.shown);
  if (report === null)
    throw new InputProblem(take.shown, '', 'was not analysed yet', `shimwright analyze ${take.shown}`);
  const { strokesCsv } = await import('../../analysis/report/strokes-csv.ts');
  terminal.printRaw(strokesCsv(report));
  return ok;
}
