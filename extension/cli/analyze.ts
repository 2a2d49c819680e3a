/** shimwright analyze: one take measured. */
import { join } from 'node:path';
import { InputProblem } from '../../analysis/problem.ts';
import type { Report } from '../../analysis/results.ts';
import { mistake, ok, outOfTolerance, type Command, type Given } from './command.ts';
import type { Terminal } from './terminal.ts';

export const analyze: Command = {
  name: 'analyze',
  usage: 'TAKE [--json] [--check] [--quiet]',
  summary: 'measures one take and writes its report beside it',
  flags: ['json', 'check'],
  help: [
    'TAKE is a take’s folder, or a file in it; the machine is the nearest machine.jsonc above it.',
    'Writes report.json, report.md and their pictures into the take’s folder and an entry into',
    'CALIBRATION.md.',
    '',
    '  --json    print the report, and nothing else, on standard output',
    '  --check   exit with 1 where a group’s mean is beyond its tolerance, a pin sits in the wrong hole, or',
    '            nothing could be measured',
    '  --quiet   no progress, results only',
  ].join('\n'),
  run: runAnalyze,
};

async function runAnalyze(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const [path, ...more] = given.paths;
  if (path === undefined)
    throw mistake(analyze, 'no take was named', 'give the take’s folder: shimwright analyze takes/may');
  if (more.length > 0)
    throw mistake(analyze, `one take at a time, and ${more.length + 1} were named`, 'run it once for each');
  const { locate } = await import('../files/machine-folder.ts');
  const place = await locate(path);
  const { take, root, shownRoot } = place;
  if (take === null) throw await notATake(path, root, shownRoot);
  const { withBench } = await import('./bench.ts');
  const report = await withBench(signal, (bench) =>
    bench.call(
      'analyseFolder',
      { root, shown: shownRoot, take: path, plugins: [] },
      { signal, progress: (stage, fraction) => terminal.progress(take.shown, stage, fraction) },
    ),
  );
  terminal.progressDone();
  if (given.has('json')) {
    const { stringifyReport } = await import('../../analysis/report/report.ts');
    terminal.printRaw(stringifyReport(report));
  } else {
    const { renderTable } = await import('../../analysis/report/table.ts');
    terminal.print(renderTable(report));
    await printOutcome(report, terminal);
    terminal.print(`\nThe whole report: ${join(take.shown, 'report.md')}`);
  }
  return given.has('check') && (await isOut(report)) ? outOfTolerance : ok;
}

/** Whether the change before the take did what was expected. */
export async function printOutcome({ outcome }: Report, terminal: Terminal): Promise<void> {
  if (outcome === undefined) return;
  const { wrapped } = await import('../../analysis/report/terminal-text.ts');
  terminal.print(`\n${wrapped(`Did it work? Since take ${outcome.since}: ${outcome.line}`, '  ')}`);
}

async function isOut(report: Report): Promise<boolean> {
  const { readingsOf } = await import('../../analysis/report/reading.ts');
  const known = readingsOf(report).filter(({ group }) => group.meanMs !== null);
  return (
    known.length === 0 ||
    known.some(({ group, channel }) => Math.abs(group.meanMs!) > channel.toleranceMs) ||
    report.findings.some(({ kind }) => kind === 'misplaced-pin')
  );
}

async function notATake(path: string, root: string, shownRoot: string): Promise<InputProblem> {
  const { takeFolders } = await import('../files/machine-folder.ts');
  const names = (await takeFolders(root, shownRoot)).map(({ shown }) => shown);
  return new InputProblem(
    path,
    '',
    'is the machine’s folder, where a take’s belongs',
    names.length === 0
      ? 'make a folder for the recording: takes/NAME'
      : `name one of its takes: ${names.slice(0, 5).join(', ')}${names.length > 5 ? ' …' : ''}`,
  );
}
