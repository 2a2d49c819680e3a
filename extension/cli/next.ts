/** shimwright next: what to calibrate next, what is not measured yet, and a pattern that would measure it. */
import { join } from 'node:path';
import { InputProblem } from '../../analysis/problem.ts';
import { ofTune } from '../../analysis/machine/tune.ts';
import type { Gain } from '../../analysis/report/gain.ts';
import { mistake, ok, type Command } from './command.ts';
import { mendAndTell } from './mend.ts';

const patternName = 'test-pattern.csv';
const named = 5;

/** Less of a tolerance is not worth taking a machine apart. */
const leastGain = 0.1;

function nameOf({ channels }: Gain): string {
  return channels.length === 1 ? channels[0] : `${channels[1]} after ${channels[0]}`;
}

/** @param sinceTake adjusters that were changed since the take */
function said(gain: Gain, sinceTake: readonly string[]): string {
  const { before, after, adjusters } = gain;
  const by =
    adjusters.length > 0 ? adjusters.join(', ') : `what was changed since the take (${sinceTake.join(', ')})`;
  return `  ${nameOf(gain)}: from ${before.toFixed(1)} to ${after.toFixed(1)} × tolerance, by ${by}`;
}

export const next: Command = {
  name: 'next',
  usage: 'MACHINE',
  summary: 'says which channels to calibrate next, and how to measure what is not measured',
  flags: [],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc. Prints every channel by sector from the newest take in which',
    'something was measured, worst first, and which channels gain most from the settings that would be proposed.',
    `Where groups are not measured it writes ${patternName} beside machine.jsonc: the fewest pins that would`,
    'measure them.',
  ].join('\n'),
  async run(given, terminal, signal) {
    const [path, ...more] = given.paths;
    if (path === undefined) throw mistake(next, 'no machine was named', 'give its folder: shimwright next .');
    if (more.length > 0) throw mistake(next, `one machine at a time, and ${more.length + 1} were named`);
    const { locate, readMachineFolder } = await import('../files/machine-folder.ts');
    const { root, shownRoot } = await locate(path);
    await mendAndTell(root, terminal);
    const machineFolder = await readMachineFolder(root, shownRoot);
    const { machine } = machineFolder;
    const { reportsOnRecord } = await import('./takes-on-record.ts');
    const reports = await reportsOnRecord(machineFolder, terminal);
    const { sayUnnoted } = await import('./apply.ts');
    await sayUnnoted(machineFolder, reports.at(-1) ?? null, terminal);
    if (reports.length === 0)
      throw new InputProblem(path, '', 'has no analysed takes', `shimwright advise ${shownRoot}`);
    // A take in which nothing could be measured says nothing of what is next.
    const measured = reports.findLastIndex(({ groups }) => groups.some(({ meanMs }) => meanMs !== null));
    const newest = reports[Math.max(0, measured)];
    const core = await import('../../analysis/report/next.ts');
    const { togetherPairs } = await import('../../analysis/report/together.ts');
    const { gainsOf } = await import('../../analysis/report/gain.ts');
    const { withBench } = await import('./bench.ts');
    terminal.print(core.renderMatrix(core.matrixOf(newest, togetherPairs(machine))));
    const advice = await withBench(signal, (bench) =>
      bench.call('advise', { machine, reports: reports.slice(0, Math.max(0, measured) + 1) }, { signal }),
    );
    const gains = gainsOf(machine, advice);
    const sinceTake = machine.description.adjusters.flatMap(({ id, installed }) =>
      id in newest.settings && newest.settings[id] !== installed ? [id] : [],
    );
    // Without a change there is no gain, whatever several takes together make of a lateness.
    const helps = ({ before, after, adjusters }: Gain) =>
      before - after > leastGain && (adjusters.length > 0 || sinceTake.length > 0);
    const worth = gains.filter(helps);
    const left = gains.filter((gain) => !helps(gain) && gain.before > 1);
    terminal.print(
      gains.length === 0
        ? '\nNothing measured is out of tolerance.'
        : worth.length === 0
          ? '\nNo allowed setting would bring more within tolerance.'
          : `\nCalibrate next, the largest gain first:\n${worth
              .slice(0, named)
              .map((gain) => said(gain, sinceTake))
              .join('\n')}`,
    );
    if (advice.newest !== undefined)
      terminal.print(`Take ${advice.newest.take} is taken as the newest: ${advice.newest.why}.`);
    if (left.length > 0)
      terminal.print(
        `Out of tolerance, and no allowed setting helps: ${left.slice(0, named).map(nameOf).join(', ')}.`,
      );
    const wanted = core.unmeasuredGroups(ofTune(machine, newest.tune), newest);
    if (wanted.size === 0) return ok;
    const { pins, without } = core.testPattern(
      ofTune(machine, newest.tune),
      wanted,
      newest.tempo.secondsPerTurn ?? 16,
    );
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
