/** Analyses takes one after another, with their stages shown and a way to stop. */
import * as vscode from 'vscode';
import type { Run, Stage } from '../../analysis/ports.ts';
import type { Report } from '../../analysis/results.ts';
import { doneOf } from '../stages.ts';
import { clearFaults, showFault } from './diagnostics.ts';
import { tell } from './faults.ts';
import { analyseHandedOver } from './hand-over.ts';
import { listed, pickMachine, pickTake, type Clicked, type TakePlace } from './targets.ts';
import { said } from './words.ts';
import { Stopped } from './work/call.ts';
import { pluginsOf, type Workshop } from './workshop.ts';

/** @returns the report, undefined where there is none: nothing was picked, it was stopped, or it failed and was told */
export async function analyseTake(shop: Workshop, clicked: Clicked): Promise<Report | undefined> {
  const take = await pickTake(shop, clicked);
  if (!take) return undefined;
  const [report] = await analyseAll(shop, [take]);
  const open = vscode.workspace.getConfiguration('shimwright').get<boolean>('openReportAfterAnalysis', true);
  if (report && open) await vscode.commands.executeCommand('shimwright.openReport', take.folder);
  return report;
}

/** Every take of a machine that has no report, or one that is older than what it rests on; oldest first. */
export async function analyseStaleTakes(shop: Workshop, clicked: Clicked): Promise<Report[]> {
  const root = await pickMachine(shop, clicked);
  if (!root) return [];
  const due = await listed(root, ({ report, staleBy }) => report === null || staleBy !== null);
  return analyseAll(shop, due.reverse());
}

async function analyseAll(shop: Workshop, takes: readonly TakePlace[]): Promise<Report[]> {
  const reports: Report[] = [];
  const options = {
    location: vscode.ProgressLocation.Notification,
    title: vscode.l10n.t('Analysing'),
    cancellable: true,
  };
  await vscode.window.withProgress(options, async (progress, token) => {
    const stop = new AbortController();
    token.onCancellationRequested(() => stop.abort());
    for (const [i, take] of takes.entries()) {
      let shown = 0;
      const report = (stage: Stage, fraction: number) => {
        const done = (100 * (i + doneOf(stage, fraction))) / takes.length;
        const which = takes.length === 1 ? take.name : `${take.name} (${i + 1}/${takes.length})`;
        progress.report({ message: `${said(which)}: ${stageWord(stage)}`, increment: done - shown });
        shown = Math.max(shown, done);
      };
      try {
        reports.push(await analyseOne(shop, take, { signal: stop.signal, progress: report }));
        clearFaults(take);
      } catch (error) {
        await showFault(error, { root: take.root, take: take.folder });
        void tell(shop, error, { root: take.root, take: take.folder });
        if (error instanceof Stopped) break;
      }
      shop.changed();
    }
  });
  return reports;
}

async function analyseOne(shop: Workshop, take: TakePlace, run: Run): Promise<Report> {
  const { root, folder } = take;
  const startedMs = Date.now();
  const report = shop.platform.reaches(folder)
    ? await shop.bench.call(
        'analyseFolder',
        { root: root.fsPath, take: folder.fsPath, plugins: await pluginsOf(shop) },
        run,
      )
    : await analyseHandedOver(shop, take, run);
  shop.log.info(`${take.name}: analysed in ${((Date.now() - startedMs) / 1000).toFixed(1)} s`);
  return report;
}

function stageWord(stage: Stage): string {
  switch (stage) {
    case 'reading':
      return vscode.l10n.t('reading files');
    case 'hearing':
      return vscode.l10n.t('hearing strikes');
    case 'laying':
      return vscode.l10n.t('laying strokes on the barrel');
    case 'checking':
      return vscode.l10n.t('checking');
    case 'advising':
      return vscode.l10n.t('working out settings');
    case 'reporting':
      return vscode.l10n.t('writing the report');
  }
}
