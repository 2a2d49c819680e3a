/** "What to Calibrate Next" and "Drive at Another Tempo": what the takes tell, as a text in a tab. */
import * as vscode from 'vscode';
import {
  nextWords,
  testPatternFor,
  testPatternWords,
  upToMeasured,
} from '../../analysis/report/next-text.ts';
import { testPatternFile } from '../../analysis/report/own-file.ts';
import { driveAround, renderDrive, tempoIn } from '../common/drive-text.ts';
import { refuseOthers } from '../common/others-file.ts';
import { readWithin, writeWithin } from './disk.ts';
import { machineAt, reportsOf } from './machine-files.ts';
import { proposalFor } from './proposal.ts';
import { pickMachine, type Clicked } from './targets.ts';
import { publish } from './virtual-texts.ts';
import type { Workshop } from './workshop.ts';

/** @returns where the text is; null where no machine was chosen */
export async function showNext(shop: Workshop, clicked: Clicked): Promise<vscode.Uri | null> {
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const { machine, newest, advice } = await proposalFor(shop, root, upToMeasured);
  const { matrix, lines } = nextWords(machine, newest, advice);
  const pattern = testPatternFor(machine, newest);
  const parts = [matrix, lines.join('\n')];
  if (pattern !== null) {
    const file = vscode.Uri.joinPath(root, testPatternFile.name);
    const before = await readWithin(root, file);
    refuseOthers(testPatternFile, before === null ? null : new TextDecoder().decode(before));
    await writeWithin(root, [{ file, bytes: new TextEncoder().encode(pattern.text), before }]);
    parts.push(testPatternWords(pattern, testPatternFile.name).join('\n'));
  }
  return show(machine.description.name, vscode.l10n.t('what next'), `${parts.join('\n\n')}\n`);
}

/** @param bpm beats a minute; asked for where absent */
export async function showTempo(shop: Workshop, clicked: Clicked, bpm?: number): Promise<vscode.Uri | null> {
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const machine = await machineAt(root);
  const wanted = bpm ?? (await askTempo());
  if (wanted === null) return null;
  const text = renderDrive(machine, driveAround(machine, await reportsOf(root, machine), wanted));
  return show(
    machine.description.name,
    vscode.l10n.t('{0} beats a minute', Number(wanted.toFixed(2))),
    `${text}\n`,
  );
}

/** Beats a minute; null where the person gave up. */
export async function askTempo(): Promise<number | null> {
  const given = await vscode.window.showInputBox({
    title: vscode.l10n.t('Tempo, beats a minute'),
    ignoreFocusOut: true,
    validateInput: (words) =>
      tempoIn(words) === null ? vscode.l10n.t('a number of beats a minute, more than 0') : null,
  });
  return given === undefined ? null : tempoIn(given);
}

async function show(machine: string, what: string, text: string): Promise<vscode.Uri> {
  const uri = publish([machine, `${machine}: ${what}.txt`], text);
  await vscode.window.showTextDocument(await vscode.workspace.openTextDocument(uri), { preview: true });
  return uri;
}
