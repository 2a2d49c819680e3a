/** shimwright analyze: one take measured. */
import { join } from 'node:path';
import { InputProblem } from '../../analysis/problem.ts';
import type { EarlierReport } from '../../analysis/results.ts';
import type { FolderOrder } from '../host/work/jobs.ts';
import { mistake, ok, outOfTolerance, type Command, type Given } from './command.ts';
import { mendAndTell } from './mend.ts';
import type { Terminal } from './terminal.ts';

export const analyze: Command = {
  name: 'analyze',
  usage: 'TAKE … [--json] [--check] [--workers N] [--quiet]',
  summary: 'measures takes and writes each one’s report beside it',
  flags: ['json', 'check'],
  values: ['workers'],
  help: [
    'TAKE is a take’s folder, or a file in it; the machine is the nearest machine.jsonc above it.',
    'Writes report.json, report.md and their pictures into the take’s folder and an entry into',
    'CALIBRATION.md.',
    '',
    'Several takes are measured side by side, and advised and logged one after another in the order given.',
    '',
    '  --json    print the report, and nothing else, on standard output; of several takes, an array',
    '  --check   exit with 1 where a group’s mean is beyond its tolerance, a pin sits in the wrong hole, or',
    '            nothing could be measured',
    '  --workers N   takes measured at once; without it, as many as the computer has cores',
    '  --quiet   no progress, results only',
  ].join('\n'),
  run: runAnalyze,
};

async function runAnalyze(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  if (given.paths.length === 0)
    throw mistake(analyze, 'no take was named', 'give the take’s folder: shimwright analyze takes/may');
  const { locate } = await import('../files/machine-folder.ts');
  const takes: { order: FolderOrder; shown: string; reportFile: string }[] = [];
  for (const path of given.paths) {
    const { take, root, shownRoot } = await locate(path);
    if (take === null) throw await notATake(path, root, shownRoot);
    takes.push({
      order: { root, shown: shownRoot, take: path, plugins: [] },
      shown: take.shown,
      reportFile: join(take.folder, 'report.json'),
    });
  }
  for (const root of new Set(takes.map(({ order }) => order.root))) await mendAndTell(root, terminal);
  const { analyseTakes, usualWorkers } = await import('./several.ts');
  const reports = await analyseTakes(
    takes.map(({ order, shown }) => ({
      order,
      progress: (stage, fraction) => terminal.progress(shown, stage, fraction),
    })),
    workersOf(given) ?? usualWorkers(takes.length),
    signal,
  );
  terminal.progressDone();
  if (given.has('json')) {
    const { asText, readNamed } = await import('../files/read.ts');
    const texts = await Promise.all(
      takes.map(async ({ reportFile }) => asText(await readNamed(reportFile), reportFile)),
    );
    terminal.printRaw(
      texts.length === 1 ? texts[0] : `[\n${texts.map((text) => text.trimEnd()).join(',\n')}\n]\n`,
    );
  } else {
    const { renderTable } = await import('../../analysis/report/table.ts');
    for (const [i, report] of reports.entries()) {
      terminal.print(renderTable(report));
      await printOutcome(report, terminal);
      terminal.print(`\nThe whole report: ${join(takes[i].shown, 'report.md')}`);
    }
  }
  for (const report of reports) if (given.has('check') && (await isOut(report))) return outOfTolerance;
  return ok;
}

function workersOf(given: Given): number | null {
  const text = given.value('workers');
  if (text === undefined) return null;
  if (!/^[1-9]\d?$/.test(text))
    throw mistake(analyze, `--workers ${text} is no count of threads`, 'give a whole number from 1 to 99');
  return Number(text);
}

/** Whether the change before the take did what was expected. */
export async function printOutcome(
  { outcome }: Pick<EarlierReport, 'outcome'>,
  terminal: Terminal,
): Promise<void> {
  if (outcome === undefined) return;
  const { wrapped } = await import('../../analysis/report/terminal-text.ts');
  terminal.print(`\n${wrapped(`Did it work? Since take ${outcome.since}: ${outcome.line}`, '  ')}`);
}

async function isOut(report: EarlierReport): Promise<boolean> {
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
