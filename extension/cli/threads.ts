/** The analysis on threads of its own, so that Ctrl-C is heard while it computes. */
import { Stopped } from '../work/stopped.ts';
import { fileURLToPath } from 'node:url';
import { openThread, type AnalysisThread } from '../work/call.ts';
import { startNodeWorker } from '../work/start-node.ts';
import { heedingSignals } from './stopping.ts';

/**
 * @param count threads; each starts with its first job
 * @throws what `work` throws; where the run was stopped, the signal's reason
 */
export async function withThreads<T>(
  count: number,
  signal: AbortSignal,
  work: (threads: readonly AnalysisThread[]) => Promise<T>,
): Promise<T> {
  const threads = Array.from({ length: count }, newThread);
  try {
    return await heedingSignals(() => work(threads));
  } catch (error) {
    if (error instanceof Stopped) signal.throwIfAborted();
    throw error;
  } finally {
    for (const thread of threads) thread.dispose();
  }
}

/** A thread of its own, which ends with `dispose`. */
export function newThread(): AnalysisThread {
  // The thread's code is built beside this.
  const dist = fileURLToPath(new URL('.', import.meta.url));
  return openThread(() => Promise.resolve(startNodeWorker(dist)));
}

export const withThread = <T>(
  signal: AbortSignal,
  work: (thread: AnalysisThread) => Promise<T>,
): Promise<T> => withThreads(1, signal, ([thread]) => work(thread));
