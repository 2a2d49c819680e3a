/** Analyses takes side by side, with their stages shown and a way to stop. */
import { Stopped } from '../work/stopped.ts';
import * as vscode from 'vscode';
import type { Run } from '../../analysis/ports.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import { showIn } from './analysis-progress.ts';
import { cancellable } from './cancellable.ts';
import { clearFaults, showFault } from './diagnostics.ts';
import { tell } from './faults.ts';
import { analyseHandedOver, mostAtOnce } from './hand-over.ts';
import { takesListed, pickMachine, pickTake, type Clicked, type TakePlace } from './targets.ts';
import { analyseSeveral, type TakeWork } from '../work/several.ts';
import { pluginsOf, type Workshop } from './workshop.ts';

/** @returns the report without its hits, undefined where there is none: nothing was picked, it was stopped, or it failed and was told */
export async function analyseTake(shop: Workshop, clicked: Clicked): Promise<EarlierReport | undefined> {
  const take = await pickTake(shop, clicked);
  if (!take) return undefined;
  const [report] = await analyseAll(shop, [take]);
  const open = vscode.workspace.getConfiguration('shimwright').get<boolean>('openReportAfterAnalysis', true);
  if (report && open) await vscode.commands.executeCommand('shimwright.openReport', take.folder);
  return report;
}

/** Every take of a machine that has no report, or one made from something else than is there now; oldest first. */
export async function analyseStaleTakes(shop: Workshop, clicked: Clicked): Promise<EarlierReport[]> {
  const root = await pickMachine(shop, clicked);
  if (!root) return [];
  const due = await takesListed(
    root,
    ({ report, freshness }) => report === null || freshness?.state === 'stale',
  );
  if (due.length === 0)
    // Not waited for: a message stays until it is closed.
    void vscode.window.showInformationMessage(vscode.l10n.t('No take is new or stale: nothing to analyse.'));
  return analyseAll(shop, due.reverse());
}

/** Left to the editor itself, so that it answers while takes are heard. */
const coresForTheEditor = 1;

/** Each thread holds a whole take in memory; more than these would crowd out what else the computer does. */
const mostThreads = 4;

async function analyseAll(shop: Workshop, takes: readonly TakePlace[]): Promise<EarlierReport[]> {
  if (takes.length === 0) return [];
  const results = await cancellable(vscode.l10n.t('Analysing'), async (signal, progress) => {
    const show = showIn(progress, takes);
    const work = takes.map((take, i): TakeWork<EarlierReport | null> => async (thread, turn) => {
      const run = { signal, progress: show.stage(i) };
      const inTurn = () => {
        if (i > 0) show.waiting(i);
        return turn();
      };
      try {
        const report = await analyseOne(shop, take, run, thread, inTurn);
        clearFaults(take);
        shop.changed();
        return report;
      } catch (error) {
        if (error instanceof Stopped) return null;
        await showFault(error, { root: take.root, take: take.folder });
        void tell(shop, error, { root: take.root, take: take.folder });
        shop.changed();
        return null;
      } finally {
        show.ended(i);
      }
    });
    if (takes.length === 1) return analyseSeveral(work, [shop.thread]);
    const threads = Array.from({ length: await threadsFor(shop, takes) }, () => shop.openThread());
    try {
      return await analyseSeveral(work, threads);
    } finally {
      for (const thread of threads) thread.dispose();
    }
  });
  return results.flatMap((result) => {
    if (result.status === 'rejected') throw result.reason;
    return result.value ?? [];
  });
}

async function threadsFor({ platform }: Workshop, takes: readonly TakePlace[]): Promise<number> {
  const inMemory = platform.reaches(takes[0].folder) ? takes.length : await mostAtOnce(takes);
  return Math.max(1, Math.min(platform.cores() - coresForTheEditor, mostThreads, inMemory));
}

/** @throws InputProblem, Stopped or Defect */
export async function analyseOne(
  shop: Workshop,
  take: TakePlace,
  run: Run,
  thread = shop.thread,
  turn = () => Promise.resolve(),
): Promise<EarlierReport> {
  if (run.signal?.aborted) throw new Stopped();
  const { root, folder } = take;
  const startedMs = Date.now();
  const report = shop.platform.reaches(folder)
    ? await thread.call(
        'analyseFolder',
        { root: root.fsPath, take: folder.fsPath, plugins: await pluginsOf(shop) },
        { ...run, turn: () => turn().then(() => null) },
      )
    : await analyseHandedOver(shop, thread, take, run, turn);
  shop.log.info(`${take.name}: analysed in ${((Date.now() - startedMs) / 1000).toFixed(1)} s`);
  return report;
}
