/** shimwright sheet: what to do at the machine, as a page to print or to hold on a phone. */
import { asText } from '../common/utf8.ts';
import { join } from 'node:path';
import type { Run } from '../../analysis/ports.ts';
import { noTakes, readMinutes } from './advise.ts';
import { ok, type Command, type Given } from './command.ts';
import { machineNamed } from './named.ts';
import type { Terminal } from './terminal.ts';

export const sheet: Command = {
  name: 'sheet',
  usage: 'MACHINE [--minutes N] [--quiet]',
  summary: 'writes the work sheet: what to change, which pins to move, what to record then',
  flags: [],
  values: ['minutes'],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc. Takes without a fresh report are analysed first. Writes',
    'work-sheet.html beside machine.jsonc: a page to print or to hold on a phone, with boxes to tick, a blank for what was',
    'really fitted, and the barrel unrolled. It needs no network and runs no script. A sheet that was changed by hand is',
    'not replaced.',
    '',
    '  --minutes N   what gains most in N minutes, as advise has it',
    '  --quiet       no progress, results only',
  ].join('\n'),
  run: runSheet,
};

async function runSheet(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const minutes = readMinutes(sheet, given.value('minutes'));
  const { path, machineFolder } = await machineNamed(sheet, given, terminal, 'shimwright sheet .');
  const { root, shown: shownRoot, machine } = machineFolder;
  const { sheetFile } = await import('../../analysis/report/own-file.ts');
  const { refuseOthers } = await import('../common/others-file.ts');
  const { sheetText } = await import('../common/sheet-text.ts');
  const { readInside } = await import('../files/read.ts');
  const file = join(root, sheetFile.name);
  const shown = join(shownRoot, sheetFile.name);
  const old = await readInside(root, file, shown);
  refuseOthers(sheetFile, old === null ? null : asText(old, shown), shown);
  const { freshReports } = await import('./fresh-reports.ts');
  const { withThread } = await import('./threads.ts');
  const { newest, advice: proposed } = await withThread(signal, async (thread) => {
    const reports = await freshReports(machineFolder, terminal, signal);
    const newest = reports.at(-1);
    if (newest === undefined) throw noTakes(path);
    const order = { machine, reports, ...(minutes === undefined ? {} : { minutes }) };
    const progress: Run['progress'] = (stage, fraction) => terminal.progress(shownRoot, stage, fraction);
    return { newest, advice: await thread.call('advise', order, { signal, progress }) };
  });
  terminal.progressDone();
  const { sayUnnoted, unnotedIn } = await import('./apply.ts');
  const { withUnnoted } = await import('../../analysis/report/unnoted.ts');
  await sayUnnoted(machineFolder, newest, terminal);
  const unnoted = await unnotedIn(machineFolder, newest);
  const advice = withUnnoted(proposed, unnoted, newest.take);
  const { writeWhole } = await import('../files/write.ts');
  const bytes = new TextEncoder().encode(sheetText(machine, newest, advice));
  await writeWhole(root, [{ path: file, bytes, before: old }], signal);
  terminal.print(`${shown}: ${advice.summary}`);
  return ok;
}
