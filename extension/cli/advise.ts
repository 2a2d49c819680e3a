/** shimwright advise: what to change, from all takes on record; with --apply, the record of what was done. */
import { existsSync } from 'node:fs';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Advice, EarlierReport } from '../../analysis/results/results.ts';
import type { MachineFolder } from '../files/machine-folder.ts';
import { applyWork, readFitted, sayUnnoted, unnotedIn } from './apply.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import { mendAndTell } from './mend.ts';
import type { Terminal } from './terminal.ts';

export const advise: Command = {
  name: 'advise',
  usage: 'MACHINE [--minutes N] [--json] [--apply [ID=N …]] [--quiet]',
  summary: 'proposes what to change, from all takes; --apply records that it was done',
  flags: ['json', 'apply'],
  values: ['minutes'],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc. Takes without a fresh report are analysed first.',
    '',
    '  --minutes N      what gains most in N minutes, and what the next session would bring; machine.jsonc says under',
    '                   "access" how long it takes to open the machine and to change one adjuster',
    '  --json           print the advice, and nothing else, on standard output',
    '  --apply          the proposed work is done: write the settings into machine.jsonc (comments and layout',
    '                   are kept) and an entry into CALIBRATION.md',
    '  --apply ID=N …   these settings were really fitted instead, and no others',
    '  --quiet          no progress, results only',
    '',
    'shimwright advise . --apply joint-AB=4 lever-a=2',
  ].join('\n'),
  run: runAdvise,
};

async function runAdvise(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const { path, pairs } = split(given);
  const minutes = readMinutes(advise, given.value('minutes'));
  const { locate, readMachineFolder } = await import('../files/machine-folder.ts');
  const place = await locate(path);
  if (place.take !== null)
    throw new InputProblem(
      path,
      '',
      'is inside a take, and advice is for the whole machine',
      `shimwright advise ${place.shownRoot}`,
    );
  await mendAndTell(place.root, terminal);
  const machineFolder = await readMachineFolder(place.root, place.shownRoot);
  const fitted = pairs.length === 0 ? null : readFitted(machineFolder, pairs);
  const { withThread } = await import('./threads.ts');
  const { freshReports } = await import('./fresh-reports.ts');
  const { reports, advice } = await withThread(signal, async (thread) => {
    const reports = await freshReports(machineFolder, terminal, signal);
    if (reports.length === 0 && fitted === null) throw noTakes(path);
    const advice = await thread.call(
      'advise',
      { machine: machineFolder.machine, reports, ...(minutes === undefined ? {} : { minutes }) },
      { signal, progress: (stage, fraction) => terminal.progress(place.shownRoot, stage, fraction) },
    );
    return { reports, advice };
  });
  terminal.progressDone();
  const newest = reports.at(-1) ?? null;
  // Without a number for each, --apply refuses what nobody noted, in one line of its own.
  if (!given.has('apply') || fitted !== null) await sayUnnoted(machineFolder, newest, terminal, fitted ?? {});
  const work = given.has('apply') ? await applyWork(machineFolder, newest, advice, fitted, signal) : null;
  const told = await toldOf(machineFolder, newest, advice, work !== null);
  if (given.has('json')) terminal.printRaw(JSON.stringify(told, null, 2));
  else if (work !== null) terminal.print(work);
  else if (newest !== null) {
    const { renderAdvice } = await import('../../analysis/report/table.ts');
    terminal.print(renderAdvice(told, newest));
    const { printOutcome } = await import('./analyze.ts');
    await printOutcome(newest, terminal);
  }
  return ok;
}

/** What is recorded now is noted by that; else what nobody noted is said first. */
async function toldOf(
  machineFolder: MachineFolder,
  newest: EarlierReport | null,
  advice: Advice,
  isNoted: boolean,
): Promise<Advice> {
  if (isNoted) return advice;
  const { withUnnoted } = await import('../../analysis/report/unnoted.ts');
  return withUnnoted(advice, await unnotedIn(machineFolder, newest), newest?.take ?? null);
}

/** @throws InputProblem where it is no time */
export function readMinutes(command: Command, text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const minutes = Number(text);
  if (minutes > 0 && Number.isFinite(minutes)) return minutes;
  throw mistake(command, `--minutes "${text}" is no time`, 'give minutes, more than 0: --minutes 45');
}

/** With --apply, what looks like ID=N is a setting and the rest is the machine; without it, everything is a path. */
function split(given: Given): { readonly path: string; readonly pairs: readonly string[] } {
  const isPair = (text: string) => /^[^=/\\]+=/.test(text);
  const pairs = given.has('apply') ? given.paths.filter(isPair) : [];
  const paths = given.has('apply') ? given.paths.filter((text) => !isPair(text)) : given.paths;
  if (paths.length === 0)
    throw mistake(advise, 'no machine was named', 'give its folder: shimwright advise .');
  if (paths.length > 1) {
    const bare = given.has('apply') ? paths.filter((path) => !existsSync(path)) : [];
    if (bare.length > 0) throw noNumber(bare);
    const stray = paths.slice(1).find(isPair);
    throw stray === undefined
      ? mistake(advise, `one machine at a time, and ${paths.length} were named`)
      : mistake(
          advise,
          `${stray} is a setting, and --apply was not given`,
          'add --apply to record what was fitted',
        );
  }
  return { path: paths[0], pairs };
}

/** @param bare what stands after --apply and is neither a setting nor there to be opened */
function noNumber([id, number]: readonly string[]): InputProblem {
  const setting = /^[+-]?\d+$/.test(number ?? '') ? number : 'N';
  return mistake(
    advise,
    `"${id}" is no setting: the number that was fitted is missing`,
    `write it after an equals sign, without a space: --apply ${id}=${setting}`,
  );
}

export const noTakes = (path: string) =>
  new InputProblem(
    path,
    '',
    'has no takes to go by',
    'record one into takes/NAME (see "Record a take" in the README)',
  );
