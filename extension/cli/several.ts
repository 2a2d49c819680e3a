/**
 * Several takes at once, each on a thread of its own: they are measured side by side, and what depends on other takes
 * (advice, the changelog) is done one take after another in the order given. So no file differs by a byte however many
 * threads there are.
 */
import { availableParallelism } from 'node:os';
import type { Run } from '../../analysis/ports.ts';
import type { Report } from '../../analysis/results.ts';
import { withBench } from './bench.ts';
import type { FolderOrder } from '../host/work/jobs.ts';

export interface TakeToAnalyse {
  readonly order: FolderOrder;
  readonly progress?: Run['progress'];
}

/** As many threads as the machine has cores for, but none without a take. */
export const usualWorkers = (takes: number) => Math.max(1, Math.min(availableParallelism(), takes));

/**
 * @param workers threads, 1 or more
 * @returns the takes' reports, in their order
 * @throws the failure of the first take, in their order, that failed; takes after it in the order may be done by then
 */
export async function analyseSeveral(
  takes: readonly TakeToAnalyse[],
  workers: number,
  signal: AbortSignal,
): Promise<Report[]> {
  const finished = takes.map(gate);
  const results: PromiseSettledResult<Report>[] = [];
  let next = 0;
  const thread = () =>
    withBench(signal, async (bench) => {
      while (next < takes.length) {
        const i = next++;
        const turn = () => finished[i - 1]?.passed ?? Promise.resolve();
        const { order, progress } = takes[i];
        const call = bench.call('analyseFolder', order, { signal, progress, turn });
        [results[i]] = await Promise.allSettled([call]);
        finished[i].open();
        signal.throwIfAborted();
      }
    });
  await Promise.all(Array.from({ length: Math.min(workers, takes.length) }, thread));
  return results.map((result) => {
    if (result.status === 'rejected') throw result.reason;
    return result.value;
  });
}

/** What others wait for until it is opened. */
function gate(): { readonly passed: Promise<void>; readonly open: () => void } {
  let open = () => {};
  const passed = new Promise<void>((resolve) => (open = resolve));
  return { passed, open };
}
