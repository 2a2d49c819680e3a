/** Advice for a machine as it stands now, from all its reports. */
import * as vscode from 'vscode';
import type { Machine } from '../../analysis/machine/machine.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Advice, EarlierReport } from '../../analysis/results/results.ts';
import { cancellable } from './cancellable.ts';
import { mendAndTell } from './disk.ts';
import { machineDocument, machineOf, reportsOf } from './machine-files.ts';
import { unnotedLines } from './unnoted.ts';
import { said } from './words.ts';
import type { Workshop } from './workshop.ts';

export interface Proposal {
  readonly root: vscode.Uri;
  /** machine.jsonc as it is in the editor. */
  readonly document: vscode.TextDocument;
  readonly machine: Machine;
  readonly newest: EarlierReport;
  readonly advice: Advice;
}

/**
 * @param used which of the reports, oldest first, advice goes by
 * @throws InputProblem where the machine cannot be read or no take is analysed; Stopped; Defect
 */
export async function proposalFor(
  shop: Workshop,
  root: vscode.Uri,
  used = (reports: readonly EarlierReport[]): readonly EarlierReport[] => reports,
): Promise<Proposal> {
  await mendAndTell(root);
  const proposal = await cancellable(vscode.l10n.t('Working out settings'), (signal) =>
    adviceNow(shop, root, signal, used),
  );
  const unnoted = await unnotedLines(root, proposal.machine, proposal.newest);
  if (unnoted.length > 0) void vscode.window.showWarningMessage(said(unnoted.join(' ')));
  return proposal;
}

/** The same without a word of progress. */
export async function adviceNow(
  shop: Workshop,
  root: vscode.Uri,
  signal: AbortSignal,
  used = (reports: readonly EarlierReport[]): readonly EarlierReport[] => reports,
): Promise<Proposal> {
  const document = await machineDocument(root);
  const machine = await machineOf(root, document.getText());
  const reports = used(await reportsOf(root, machine));
  const newest = reports.at(-1);
  if (!newest)
    throw new InputProblem('machine.jsonc', '', 'the machine has no analysed take', 'analyse one first');
  const advice = await shop.thread.call('advise', { machine, reports }, { signal });
  return { root, document, machine, newest, advice };
}
