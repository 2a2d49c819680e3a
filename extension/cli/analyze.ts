/** shimwright analyze: one take measured. */
import { asText } from '../common/utf8.ts';
import { join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import type { FolderOrder } from '../work/jobs.ts';
import { mistake, ok, outOfTolerance, unusable, type Command, type Given } from './command.ts';
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
  const workers = workersOf(given);
  const faults: unknown[] = [];
  const takes = await takesNamed(given.paths, faults);
  for (const root of new Set(takes.map(({ order }) => order.root))) await mendAndTell(root, terminal);
  const { settleTakes, usualWorkers } = await import('./several.ts');
  const results = await settleTakes(
    takes.map(({ order, shown }) => ({
      order,
      progress: (stage, fraction) => terminal.progress(shown, stage, fraction),
    })),
    workers ?? usualWorkers(takes.length),
    signal,
  );
  terminal.progressDone();
  faults.push(
    ...results.flatMap((result) => (result.status === 'rejected' ? [result.reason as unknown] : [])),
  );
  const done = takes.flatMap((take, i) => {
    const result = results[i];
    return result.status === 'fulfilled' ? [{ ...take, report: result.value }] : [];
  });
  if (given.has('json')) await printJson(done, given.paths.length, terminal);
  else await printTables(done, terminal);
  if (faults.length > 0) return refuse(faults, terminal);
  for (const { report } of done) if (given.has('check') && (await isOut(report))) return outOfTolerance;
  return ok;
}

interface NamedTake {
  readonly order: FolderOrder;
  readonly shown: string;
  readonly reportFile: string;
}

/** @param faults gets those of paths that name no take */
async function takesNamed(paths: readonly string[], faults: unknown[]): Promise<NamedTake[]> {
  const { locate } = await import('../files/machine-folder.ts');
  const takes: NamedTake[] = [];
  for (const path of paths) {
    try {
      const { take, root, shownRoot } = await locate(path);
      if (take === null) throw await notATake(path, root, shownRoot);
      takes.push({
        order: { root, shown: shownRoot, take: path, plugins: [] },
        shown: take.shown,
        reportFile: join(take.folder, 'report.json'),
      });
    } catch (error) {
      faults.push(error);
    }
  }
  return takes;
}

/** One report as it is; of several that were asked for an array of those that could be made. */
async function printJson(takes: readonly NamedTake[], asked: number, terminal: Terminal): Promise<void> {
  const { readNamed } = await import('../files/read.ts');
  const texts: string[] = [];
  for (const { reportFile } of takes) texts.push(asText(await readNamed(reportFile), reportFile).trimEnd());
  if (asked > 1) terminal.printRaw(texts.length === 0 ? '[]\n' : `[\n${texts.join(',\n')}\n]\n`);
  else if (texts.length === 1) terminal.printRaw(`${texts[0]}\n`);
}

async function printTables(
  takes: readonly (NamedTake & { readonly report: EarlierReport })[],
  terminal: Terminal,
): Promise<void> {
  const { renderTable } = await import('../../analysis/report/table.ts');
  for (const { report, shown } of takes) {
    terminal.print(renderTable(report));
    await printOutcome(report, terminal);
    terminal.print(`\nThe whole report: ${join(shown, 'report.md')}`);
  }
}

/** One line for each; what is wrong with the machine is wrong for every take of it, and said once. */
function refuse(faults: readonly unknown[], terminal: Terminal): number {
  const lines = faults.flatMap((fault) => (fault instanceof InputProblem ? fault.message : []));
  for (const line of new Set(lines)) terminal.note(line);
  const defect = faults.find((fault) => !(fault instanceof InputProblem));
  if (defect !== undefined)
    throw defect instanceof Error ? defect : new Error('what was thrown is no error', { cause: defect });
  return unusable;
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
