/** shimwright strokes: every stroke of a take as CSV, for a spreadsheet or another program. */
import { ok, type Command, type Given } from './command.ts';
import { analysedTakeNamed } from './named.ts';
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
  const { report } = await analysedTakeNamed(strokes, given, 'shimwright strokes takes/may');
  const { strokesCsv } = await import('../../analysis/report/strokes-csv.ts');
  terminal.printRaw(strokesCsv(report));
  return ok;
}
