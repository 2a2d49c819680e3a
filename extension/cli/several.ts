/** Takes on the disk analysed side by side, on as many threads as are wished for. */
import { availableParallelism } from 'node:os';
import type { Run } from '../../analysis/ports.ts';
import type { EarlierReport } from '../../analysis/results.ts';
import type { Bench } from '../host/work/call.ts';
import type { FolderOrder } from '../host/work/jobs.ts';
import { analyseSeveral } from '../host/work/several.ts';
import { withBenches } from './bench.ts';

export interface TakeToAnalyse {
  readonly order: FolderOrder;
  readonly progress?: Run['progress'];
}

/** As many threads as the machine has cores for, but none without a take. */
export const usualWorkers = (takes: number) => Math.max(1, Math.min(availableParallelism(), takes));

/**
 * @param workers threads, 1 or more
 * @returns the takes' reports without their hits, in their order
 * @throws the failure of the first take, in their order, that failed; takes after it are done all the same. Where the
 *         run was stopped, the signal's reason
 */
export async function analyseTakes(
  takes: readonly TakeToAnalyse[],
  workers: number,
  signal: AbortSignal,
): Promise<EarlierReport[]> {
  const results = await settleTakes(takes, workers, signal);
  return results.map((result) => {
    if (result.status === 'rejected') throw result.reason;
    return result.value;
  });
}

/** The same, with how each take ended. */
export function settleTakes(
  takes: readonly TakeToAnalyse[],
  workers: number,
  signal: AbortSignal,
): Promise<PromiseSettledResult<EarlierReport>[]> {
  const work = takes.map(
    ({ order, progress }) =>
      (bench: Bench, turn: () => Promise<void>) =>
        bench.call('analyseFolder', order, { signal, progress, turn: () => turn().then(() => null) }),
  );
  return withBenches(Math.min(workers, takes.length), signal, async (benches) => {
    const results = await analyseSeveral(work, benches);
    signal.throwIfAborted();
    return results;
  });
}
