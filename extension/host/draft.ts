/** "Draft a Pattern from a Take": written beside machine.jsonc and opened, to be checked against the barrel. */
import * as vscode from 'vscode';
import { draftText, tempoSaid } from '../../analysis/report/draft-text.ts';
import { draftFile } from '../../analysis/report/own-file.ts';
import { refuseOthers } from '../common/others-file.ts';
import { readWithin, writeWithin } from './disk.ts';
import { machineAt } from './machine-files.ts';
import { wholeReport } from './report-files.ts';
import { askTempo } from './next-steps.ts';
import { pickTake, type Clicked } from './targets.ts';
import { said } from './words.ts';
import type { Workshop } from './workshop.ts';

/**
 * @param bpm beats a minute; where absent and nothing else tells it, it is asked for
 * @returns where it was written; null where no analysed take was chosen
 */
export async function draftFromTake(
  shop: Workshop,
  clicked: Clicked,
  bpm?: number,
): Promise<vscode.Uri | null> {
  const take = await pickTake(shop, clicked, ({ report }) => report !== null);
  const report = take && (await wholeReport(take.folder));
  if (!take || !report) return null;
  const { root, folder, name } = take;
  const text = async (file: vscode.Uri) => {
    const bytes = await readWithin(root, file);
    return { bytes, text: bytes && new TextDecoder().decode(bytes) };
  };
  const described = await text(vscode.Uri.joinPath(folder, 'take.jsonc'));
  const machine = await machineAt(root);
  const tempo = tempoSaid(described.text) ?? bpm ?? machine.description.tempi?.at(0) ?? (await askTempo());
  if (tempo === null) return null;
  const drafted = draftText(machine, report, tempo, name);
  const file = vscode.Uri.joinPath(root, draftFile.name);
  const before = await text(file);
  refuseOthers(draftFile, before.text);
  await writeWithin(root, [{ file, bytes: new TextEncoder().encode(drafted.text), before: before.bytes }]);
  await vscode.window.showTextDocument(file);
  void vscode.window.showInformationMessage(said(drafted.lines.join(' ')));
  return file;
}
