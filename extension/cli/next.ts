/** shimwright next: what to calibrate next, what is not measured yet, and a pattern that would measure it. */
import { asText } from '../common/utf8.ts';
import { join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { ok, type Command } from './command.ts';
import { machineNamed } from './named.ts';
import type { TestPatternFile } from '../../analysis/report/next-text.ts';
import type { Terminal } from './terminal.ts';

export const next: Command = {
  name: 'next',
  usage: 'MACHINE',
  summary: 'says which channels to calibrate next, and how to measure what is not measured',
  flags: [],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc. Prints every channel by sector from the newest take in which',
    'something was measured, worst first, and which channels gain most from the settings that would be proposed.',
    'Where groups are not measured it writes test-pattern.csv beside machine.jsonc: the fewest pins that would',
    'measure them.',
  ].join('\n'),
  async run(given, terminal, signal) {
    const { path, machineFolder } = await machineNamed(next, given, terminal, 'shimwright next .');
    const { root, shown: shownRoot, machine } = machineFolder;
    const { reportsOnRecord } = await import('./takes-on-record.ts');
    const reports = await reportsOnRecord(machineFolder, terminal);
    const { sayUnnoted } = await import('./apply.ts');
    await sayUnnoted(machineFolder, reports.at(-1) ?? null, terminal);
    if (reports.length === 0)
      throw new InputProblem(path, '', 'has no analysed takes', `shimwright advise ${shownRoot}`);
    const core = await import('../../analysis/report/next-text.ts');
    const { withThread } = await import('./threads.ts');
    const used = core.upToMeasured(reports);
    const newest = used[used.length - 1];
    const advice = await withThread(signal, (thread) =>
      thread.call('advise', { machine, reports: used }, { signal }),
    );
    const { matrix, lines } = core.nextWords(machine, newest, advice);
    terminal.print(matrix);
    terminal.print(`\n${lines.join('\n')}`);
    const pattern = core.testPatternFor(machine, newest);
    if (pattern === null) return ok;
    await writePattern(root, shownRoot, pattern, terminal, signal);
    return ok;
  },
};

/** One that a person wrote or changed is kept. */
async function writePattern(
  root: string,
  shownRoot: string,
  pattern: TestPatternFile,
  terminal: Terminal,
  signal: AbortSignal,
): Promise<void> {
  const { testPatternFile } = await import('../../analysis/report/own-file.ts');
  const { refuseOthers } = await import('../common/others-file.ts');
  const { readInside } = await import('../files/read.ts');
  const { writeWhole } = await import('../files/write.ts');
  const { testPatternWords } = await import('../../analysis/report/next-text.ts');
  const file = join(root, testPatternFile.name);
  const shown = join(shownRoot, testPatternFile.name);
  const before = await readInside(root, file, shown);
  refuseOthers(testPatternFile, before === null ? null : asText(before, shown), shown);
  await writeWhole(root, [{ path: file, bytes: new TextEncoder().encode(pattern.text), before }], signal);
  for (const line of testPatternWords(pattern, shown)) terminal.print(line);
}
