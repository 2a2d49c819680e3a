/** Advice for a machine as it stands now, from all its reports. */
import * as vscode from 'vscode';
import type { Machine } from '../../analysis/machine/machine.ts';
import { InputProblem } from '../../analysis/problem.ts';
import type { Advice, EarlierReport } from '../../analysis/results.ts';
import { earlierReports, machineDocument, machineFrom } from './machine-files.ts';
import type { Workshop } from './workshop.ts';

export interface Proposal {
  readonly root: vscode.Uri;
  /** machine.jsonc as it is in the editor. */
  readonly document: vscode.TextDocument;
  readonly machine: Machine;
  readonly newest: EarlierReport;
  readonly advice: Advice;
}

/** @throws InputProblem where the machine cannot be read or no take is analysed; Stopped; Defect */
export async function proposalFor(shop: Workshop, root: vscode.Uri): Promise<Proposal> {
  const document = await machineDocument(root);
  const machine = await machineFrom(root, document.getText());
  const reports = (await earlierReports(root)).flatMap(({ report }) => (report ? [report] : []));
  const newest = reports.at(-1);
  if (!newest)
    throw new InputProblem('machine.jsonc', '', 'the machine has no analysed take', 'analyse one first');
  const options = {
    location: vscode.ProgressLocation.Notification,
    title: vscode.l10n.t('Working out settings'),
    cancellable: true,
  };
  const advice = await vscode.window.withProgress(options, (_, token) => {
    const stop = new AbortController();
    token.onCancellationRequested(() => stop.abort());
    return shop.bench.call('advise', { machine, reports }, { signal: stop.signal });
  });
  return { root, document, machine, newest, advice };
}
