/**
 * Several takes at once, each on a thread of its own: they are measured side by side, and what depends on other takes
 * (advice, the changelog) is done one take after another in the order given. So no file differs by a byte however many
 * threads there are. The terminal and the editor both come through here.
 */
import type { AnalysisThread } from './call.ts';

/**
 * One take's work on a thread; it ends once its files are written.
 *
 * @param turn comes when all takes before it have ended, well or not; to be awaited before what depends on them
 */
export type TakeWork<T> = (thread: AnalysisThread, turn: () => Promise<void>) => Promise<T>;

/**
 * @param threads at least one; each is given one take after another
 * @returns how each take ended, in their order
 */
export async function analyseSeveral<T>(
  takes: readonly TakeWork<T>[],
  threads: readonly AnalysisThread[],
): Promise<PromiseSettledResult<T>[]> {
  const ends = takes.map(gate);
  const results: PromiseSettledResult<T>[] = [];
  let next = 0;
  const workThrough = async (thread: AnalysisThread) => {
    while (next < takes.length) {
      const i = next++;
      const turn = async () => {
        // All of them: the one just before may have failed while an earlier one still works.
        for (const { passed } of ends.slice(0, i)) await passed;
      };
      [results[i]] = await Promise.allSettled([takes[i](thread, turn)]);
      ends[i].open();
    }
  };
  await Promise.all(threads.map(workThrough));
  return results;
}

/** What others wait for until it is opened. */
function gate(): { readonly passed: Promise<void>; readonly open: () => void } {
  let open = () => {};
  const passed = new Promise<void>((resolve) => (open = resolve));
  return { passed, open };
}
