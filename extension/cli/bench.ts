/** The analysis on threads of its own, so that Ctrl-C is heard while it computes. */
import { Stopped } from '../work/stopped.ts';
import { fileURLToPath } from 'node:url';
import { openBench, type Bench } from '../work/call.ts';
import { startNodeWorker } from '../work/start-node.ts';
import { heedingSignals } from './stopping.ts';

/**
 * @param count threads; each starts with its first job
 * @throws what `work` throws; where the run was stopped, the signal's reason
 */
export async function withBenches<T>(
  count: number,
  signal: AbortSignal,
  work: (benches: readonly Bench[]) => Promise<T>,
): Promise<T> {
  const benches = Array.from({ length: count }, newBench);
  try {
    return await heedingSignals(() => work(benches));
  } catch (error) {
    if (error instanceof Stopped) signal.throwIfAborted();
    throw error;
  } finally {
    for (const bench of benches) bench.dispose();
  }
}

/** A thread of its own, which ends with `dispose`. */
export function newBench(): Bench {
  // The thread's code is built beside this.
  const dist = fileURLToPath(new URL('.', import.meta.url));
  return openBench(() => Promise.resolve(startNodeWorker(dist)));
}

export const withBench = <T>(signal: AbortSignal, work: (bench: Bench) => Promise<T>): Promise<T> =>
  withBenches(1, signal, ([bench]) => work(bench));
