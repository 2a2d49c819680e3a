/** shimwright compare: what moved between two reports. */
import { asText } from '../common/utf8.ts';
import { realpath, stat } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import type { Report } from '../../analysis/results/results.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import type { Terminal } from './terminal.ts';

export const compare: Command = {
  name: 'compare',
  usage: 'BEFORE AFTER [--json]',
  summary: 'shows what moved between two reports, and whether it is more than chance',
  flags: ['json'],
  help: [
    'BEFORE and AFTER are each a report.json, a take’s folder, or REV:path of a git repository, such as',
    'HEAD~3:takes/may/report.json (the path as seen from the repository’s top, or from here).',
    '',
    '  --json    print the comparison as JSON, and nothing else, on standard output',
  ].join('\n'),
  run: runCompare,
};

async function runCompare(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  if (given.paths.length !== 2)
    throw mistake(
      compare,
      `two reports are compared, and ${given.paths.length || 'none'} ${given.paths.length === 1 ? 'was' : 'were'} named`,
      'shimwright compare BEFORE AFTER',
    );
  const [before, after] = [await load(given.paths[0], signal), await load(given.paths[1], signal)];
  for (const path of new Set(given.paths)) await sayStandingOf(path, terminal);
  const { compareReports } = await import('../../analysis/report/compare.ts');
  const comparison = compareReports(before, after);
  if (given.has('json')) terminal.printRaw(JSON.stringify(comparison, null, 2));
  else {
    const { comparisonTable } = await import('../../analysis/report/comparison-text.ts');
    terminal.print(comparisonTable(comparison));
  }
  return ok;
}

/** @param name a report file, a take's folder, or REV:path */
async function load(name: string, signal: AbortSignal): Promise<Report> {
  const { parseReport } = await import('../../analysis/report/parse.ts');
  const { readInside, readNamed } = await import('../files/read.ts');
  const found = await stat(name).catch(() => null);
  if (found?.isDirectory()) {
    const file = join(name, 'report.json');
    const folder = await realpath(name);
    const bytes = await readInside(await machineAbove(folder), join(folder, 'report.json'), file);
    if (bytes === null)
      throw new InputProblem(name, '', 'has no report.json', `run shimwright analyze ${name} first`);
    return parseReport(file, asText(bytes, file));
  }
  const git = await import('../files/git.ts');
  if (found === null && git.isRevision(name)) {
    const spec = name.endsWith('.json') ? name : `${name.replace(/\/$/, '')}/report.json`;
    return parseReport(spec, await git.showAtRevision(spec, signal));
  }
  return parseReport(name, asText(await readNamed(name), name));
}

/** The machine's folder that a take lies in; the take's own where there is none. */
async function machineAbove(folder: string): Promise<string> {
  const { locate } = await import('../files/machine-folder.ts');
  return locate(folder).then(
    ({ root }) => root,
    () => folder,
  );
}

/** A take whose files are no longer what its report was made from is said; a report elsewhere stands for itself. */
async function sayStandingOf(name: string, terminal: Terminal): Promise<void> {
  const found = await stat(name).catch(() => null);
  const folder = found?.isDirectory() ? name : dirname(name);
  if (found === null || (found.isFile() && basename(name) !== 'report.json')) return;
  const { locate, readMachineFolder, listTakes } = await import('../files/machine-folder.ts');
  const { judgeTakes } = await import('../files/freshness.ts');
  const { sayStanding } = await import('./takes-on-record.ts');
  try {
    const { root, shownRoot, take } = await locate(folder);
    const own = (await listTakes(root, shownRoot)).filter((each) => each.folder === take?.folder);
    sayStanding(await judgeTakes(await readMachineFolder(root, shownRoot), own), terminal);
  } catch (error) {
    // Two reports compare without their machine, too.
    if (!(error instanceof InputProblem)) throw error;
  }
}
