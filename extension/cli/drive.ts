/** shimwright drive: the motor's set-point for a tempo, each channel's lateness there, and the ring that suits best. */
import { InputProblem } from '../../analysis/input/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import { machineNamed } from './named.ts';
import type { Terminal } from './terminal.ts';

export const drive: Command = {
  name: 'drive',
  usage: 'MACHINE --tempo N [--json] [--quiet]',
  summary: 'the motor’s set-point and each channel’s lateness at another tempo',
  flags: ['json'],
  values: ['tempo'],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc, with "drive" in it. Goes by the takes that are analysed;',
    'takes at two tempi or more tell what each channel’s fall and flight take, one tempo leaves that a wide guess.',
    '',
    '  --tempo N   beats a minute, such as 96 or 97.5',
    '  --json      print the numbers, and nothing else, on standard output',
    '  --quiet     no notes, results only',
    '',
    'shimwright drive . --tempo 96',
  ].join('\n'),
  run: runDrive,
};

async function runDrive(given: Given, terminal: Terminal): Promise<number> {
  const bpm = await readTempo(given.value('tempo'));
  const { machineFolder } = await machineNamed(drive, given, terminal, 'shimwright drive . --tempo 96');
  const { shown: shownRoot, machine } = machineFolder;
  const { judgedTakes, sayStanding } = await import('./takes-on-record.ts');
  const takes = (await judgedTakes(machineFolder)).filter(({ fault }) => fault === null);
  sayStanding(takes, terminal);
  const reports = takes.flatMap(({ report, freshness }) =>
    report === null || freshness?.state === 'foreign' ? [] : [report],
  );
  const { driveAround, renderDrive } = await import('../common/drive-text.ts');
  const table = driveAround(machine, reports, bpm);
  const unheard = takes.filter(({ report }) => report === null).length;
  if (unheard > 0 && !given.has('quiet'))
    terminal.note(
      `${unheard} of ${takes.length} takes are not analysed and left out; shimwright advise ${shownRoot} analyses them`,
    );
  if (given.has('json')) {
    terminal.printRaw(JSON.stringify(table, null, 2));
    return ok;
  }
  terminal.print(renderDrive(machine, table));
  return ok;
}

async function readTempo(text: string | undefined): Promise<number> {
  if (text === undefined)
    throw mistake(drive, 'no tempo was given', 'add it in beats a minute: shimwright drive . --tempo 96');
  const { tempoIn } = await import('../common/drive-text.ts');
  const bpm = tempoIn(text);
  if (bpm === null)
    throw new InputProblem(
      'shimwright drive',
      '--tempo',
      `"${text}" is no tempo`,
      'give beats a minute, more than 0',
    );
  return bpm;
}
