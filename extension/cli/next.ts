/** shimwright next: what to calibrate next, what is not measured yet, and a pattern that would measure it. */
import { join } from 'node:path';
import { InputProblem } from '../../analysis/problem.ts';
import { mistake, ok, type Command } from './command.ts';

const patternName = 'test-pattern.csv';
const named = 5;

export const next: Command = {
  name: 'next',
  usage: 'MACHINE',
  summary: 'says which channels to calibrate next, and how to measure what is not measured',
  flags: [],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc. Prints every channel by sector from the newest analysed',
    `take, worst first. Where groups are not measured it writes ${patternName} beside machine.jsonc: the fewest pins`,
    'that would measure them.',
  ].join('\n'),
  async run(given, terminal, signal) {
    const [path, ...more] = given.paths;
    if (path === undefined) throw mistake(next, 'no machine was named', 'give its folder: shimwright next .');
    if (more.length > 0) throw mistake(next, `one machine at a time, and ${more.length + 1} were named`);
    const { locate, readMachineFolder, listTakes } = await import('../files/machine-folder.ts');
    const { root, shownRoot } = await locate(path);
    const { machine } = await readMachineFolder(root, shownRoot);
    const newest = (await listTakes(root, shownRoot)).findLast(({ report }) => report !== null)?.report;
    if (newest === undefined || newest === null)
      throw new InputProblem(path, '', 'has no analysed takes', `shimwright advise ${shownRoot}`);
    const core = await import('../../analysis/report/next.ts');
    const rows = core.matrixOf(newest);
    terminal.print(core.renderMatrix(rows));
    const out = rows.filter(({ worst }) => worst > 0).slice(0, named);
    terminal.print(
      out.length === 0
        ? '\nNothing measured is out of tolerance.'
        : `\nCalibrate next: ${out.map(({ channel, worst }) => `${channel} (${worst.toFixed(1)} × tolerance)`).join(', ')}.`,
    );
    const wanted = core.unmeasuredGroups(machine, newest);
    if (wanted.size === 0) return ok;
    const { pins, without } = core.testPattern(machine, wanted, newest.tempo.secondsPerTurn ?? 16);
    const { writeWhole } = await import('../files/write.ts');
    const file = join(root, patternName);
    const bytes = new TextEncoder().encode(core.patternText(machine, pins));
    await writeWhole(root, [{ path: file, bytes }], signal);
    terminal.print(
      `${wanted.size} groups are not measured. ${join(shownRoot, patternName)} has a pin for ${wanted.size - without.length} of them: record ${core.testTurns} turns of it.`,
    );
    if (without.length > 0) terminal.print(`No free place for ${without.slice(0, named).join(', ')}.`);
    return ok;
  },
};
