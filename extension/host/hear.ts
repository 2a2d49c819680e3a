/** A take as it is and as its advice would have it, written as two WAVE files from the report page. */
import * as vscode from 'vscode';
import type { Report } from '../../analysis/results/results.ts';
import { writeWithin } from './disk.ts';
import { filesOf } from './hand-over.ts';
import { machineAt, voicesOf } from './machine-files.ts';
import type { TakePlace } from './targets.ts';
import { asAbort } from '../work/stopped.ts';
import type { Workshop } from './workshop.ts';

/**
 * @returns what to tell the person
 * @throws InputProblem where there is nothing to hear, or an AbortError where the person stopped it
 */
export async function hearHere(
  shop: Workshop,
  take: TakePlace,
  report: Report,
  signal: AbortSignal,
): Promise<string> {
  const { root, folder, name } = take;
  try {
    if (shop.platform.reaches(folder)) {
      const order = { root: root.fsPath, take: folder.fsPath, report };
      await shop.thread.call('hearFolder', order, { signal });
    } else {
      const [machine, voices] = await Promise.all([machineAt(root), voicesOf(root)]);
      const order = { machine, name, files: await filesOf(take), voices, report };
      const files = await shop.thread.call('hearFiles', order, { signal });
      for (const part of ['before', 'after'] as const) {
        const file = vscode.Uri.joinPath(folder, 'hear', `${part}.wav`);
        await vscode.workspace.fs.createDirectory(vscode.Uri.joinPath(file, '..'));
        await writeWithin(root, [{ file, bytes: files[part] }]);
      }
    }
  } catch (error) {
    throw asAbort(error);
  }
  return vscode.l10n.t('Written into the take’s folder: hear/before.wav and hear/after.wav.');
}
