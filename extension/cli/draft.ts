/** shimwright draft: a first pattern from a take, for a machine whose pattern is in no file. */
import { asText } from '../common/utf8.ts';
import { join } from 'node:path';
import { mistake, ok, type Command, type Given } from './command.ts';
import { analysedTakeNamed } from './named.ts';
import type { Terminal } from './terminal.ts';

export const draft: Command = {
  name: 'draft',
  usage: 'TAKE [--tempo N]',
  summary: 'drafts a pattern from what a take repeats in every turn, to be checked',
  flags: [],
  values: ['tempo'],
  help: [
    'TAKE is a take’s folder, or a file in it; it must have been analysed, and its strikes must be known by channel: by a',
    'microphone for each striker ("tracks"), by labels, or by saved voices. Writes pattern-draft.csv beside machine.jsonc: what is',
    'heard at the same step in every turn, with a word at each pin that is doubtful. Which step is 0, and whether each pin is',
    'right, is for you to check against the barrel; then make it pattern.csv. A draft that was changed by hand is not replaced.',
    '',
    '  --tempo N   beats a minute, within a twentieth; otherwise as take.jsonc has it',
    '',
    'shimwright draft takes/first',
  ].join('\n'),
  run: runDraft,
};

async function runDraft(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const named = await analysedTakeNamed(draft, given, 'shimwright draft takes/first');
  const { root, shownRoot, take, report } = named;
  const { readMachineFolder } = await import('../files/machine-folder.ts');
  const { machine } = await readMachineFolder(root, shownRoot);
  const { draftText, tempoSaid } = await import('../../analysis/report/draft-text.ts');
  const { draftFile } = await import('../../analysis/report/own-file.ts');
  const { readInside } = await import('../files/read.ts');
  const { refuseOthers } = await import('../common/others-file.ts');
  const { tempoIn } = await import('../common/drive-text.ts');
  const { writeWhole } = await import('../files/write.ts');
  const said = await readInside(root, join(take.folder, 'take.jsonc'), join(take.shown, 'take.jsonc'));
  const typed = given.value('tempo');
  const bpm = typed === undefined ? tempoSaid(said && asText(said, 'take.jsonc')) : tempoIn(typed);
  if (typed !== undefined && bpm === null) throw mistake(draft, `--tempo "${typed}" is no number above 0`);
  const { text, lines } = draftText(machine, report, bpm, take.shown);
  const file = join(root, draftFile.name);
  const shown = join(shownRoot, draftFile.name);
  const before = await readInside(root, file, shown);
  refuseOthers(draftFile, before === null ? null : asText(before, shown), shown);
  await writeWhole(root, [{ path: file, bytes: new TextEncoder().encode(text), before }], signal);
  terminal.print([`${shown}:`, ...lines].join('\n'));
  return ok;
}
