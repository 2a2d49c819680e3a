/** shimwright history: every channel over all takes, with limits. */
import { join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { ok, type Command } from './command.ts';
import { machineNamed } from './named.ts';

const pictureName = 'history.svg';

export const history: Command = {
  name: 'history',
  usage: 'MACHINE',
  summary: 'lists each channel’s lateness over all takes, and which takes are out of the usual',
  flags: [],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc. Takes that were not analysed are left out. Writes',
    'history.svg beside machine.jsonc: a control chart of each channel.',
  ].join('\n'),
  async run(given, terminal, signal) {
    const { path, machineFolder } = await machineNamed(history, given, terminal, 'shimwright history .');
    const { root, shown: shownRoot, machine } = machineFolder;
    const { reportsOnRecord } = await import('./takes-on-record.ts');
    const reports = await reportsOnRecord(machineFolder, terminal);
    const { sayUnnoted } = await import('./apply.ts');
    await sayUnnoted(machineFolder, reports.at(-1) ?? null, terminal);
    if (reports.length === 0)
      throw new InputProblem(path, '', 'has no analysed takes', `shimwright advise ${shownRoot}`);
    const { historyOf } = await import('../../analysis/report/history.ts');
    const { renderHistory } = await import('../../analysis/report/history-text.ts');
    const channels = historyOf(machine, reports);
    terminal.print(renderHistory(channels));
    const tune = reports.at(-1)?.tune;
    const others = reports.filter((report) => report.tune !== tune).length;
    if (others > 0)
      terminal.print(
        `\nOf tune ${tune}; takes of other tunes (${others}) are left out: their pins are others.`,
      );
    const { historyPicture } = await import('../common/report-texts.ts');
    const { writeWhole } = await import('../files/write.ts');
    const bytes = new TextEncoder().encode(historyPicture(machine.description.name, channels));
    await writeWhole(root, [{ path: join(root, pictureName), bytes }], signal);
    terminal.print(`\nAs control charts: ${join(shownRoot, pictureName)}`);
    return ok;
  },
};
