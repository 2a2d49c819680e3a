/** The picture of a report, beside the report's other files. */
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import { isMarkedPng, isPng, markedPng } from '../common/marked-png.ts';
import { readWithin, writeWithin } from './disk.ts';
import type { TakePlace } from './targets.ts';

const fileName = 'report.png';

/**
 * @returns what to tell the person
 * @throws InputProblem where there is another's picture of that name, or none can be written
 */
export async function savePicture({ root, folder, name }: TakePlace, png: Uint8Array): Promise<string> {
  const shown = `takes/${name}/${fileName}`;
  if (!isPng(png)) throw new InputProblem(shown, '', 'the page made no picture', 'save it again');
  const file = vscode.Uri.joinPath(folder, fileName);
  const before = await readWithin(root, file);
  if (before !== null && !isMarkedPng(before))
    throw new InputProblem(shown, '', 'is a picture that Shimwright did not write', 'move or rename it');
  await writeWithin(root, [{ file, bytes: markedPng(png), before }]);
  return vscode.l10n.t('The picture is in {0}.', shown);
}
