/** Takes on the disk analysed side by side, on as many threads as are wished for. */
import { availableParallelism } from 'node:os';
import type { Run } from '../../analysis/ports.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import type { AnalysisThread } from '../work/call.ts';
import type { FolderOrder } from '../work/jobs.ts';
import { analyseSeveral } from '../work/several.ts';
import { withThreads } from './threads.ts';

export interface TakeToAnalyse {
  readonly order: FolderOrder;
  readonly progress?: Run['progress'];
}

/** As many threads as the machine has cores for, but none without a take. */
export const usualWorkers = (takes: number) => Math.max(1, Math.min(availableParallelism(), takes));

/**
 * @param workers threads, 1 or more
 * @returns how each take ended, in their order: its report without its hits, or why there is none
 * @throws where the run was stopped, the signal's reason
 */
export function settleTakes(
  takes: readonly TakeToAnalyse[],
  workers: number,
  signal: AbortSignal,
): Promise<PromiseSettledResult<EarlierReport>[]> {
  const work = takes.map(
    ({ order, progress }) =>
      (thread: AnalysisThread, turn: () => Promise<void>) =>
        thread.call('analyseFolder', order, { signal, progress, turn: () => turn().then(() => null) }),
  );
  if (takes.length === 0) return Promise.resolve([]);
  return withThreads(Math.min(workers, takes.length), signal, async (threads) => {
    const results = await analyseSeveral(work, threads);
    signal.throwIfAborted();
    return results;
  });
}
