/** The analysis on a thread of its own, so that Ctrl-C is heard while it computes. */
import { fileURLToPath } from 'node:url';
import { openBench, Stopped, type Bench } from '../host/work/call.ts';
import { startNodeWorker } from '../host/work/start-node.ts';

/**
 * @throws what `work` throws; where the run was stopped, the signal's reason
 */
export async function withBench<T>(signal: AbortSignal, work: (bench: Bench) => Promise<T>): Promise<T> {
  // The thread's code is built beside this.
  const bench = openBench(() =>
    Promise.resolve(startNodeWorker(fileURLToPath(new URL('.', import.meta.url)))),
  );
  try {
    return await work(bench);
  } catch (error) {
    if (error instanceof Stopped) signal.throwIfAborted();
    throw error;
  } finally {
    bench.dispose();
  }
}
