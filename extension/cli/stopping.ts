/**
 * How a run is stopped. By itself a signal ends the process at once, whatever it computes: files are whole at any moment, and
 * what a killed run leaves is cleaned by the next. Only while others compute and this thread listens, the first signal is
 * turned into a stop that cleans up after itself; the second ends the process all the same.
 */
import { setMaxListeners } from 'node:events';

export type StopSignal = 'SIGINT' | 'SIGTERM' | 'SIGHUP';
const signals: readonly StopSignal[] = ['SIGINT', 'SIGTERM', 'SIGHUP'];

/** Someone stopped the run; nothing is left half-written. */
export class StoppedBy extends Error {
  constructor(readonly signal: StopSignal) {
    super(`stopped by ${signal}`);
  }
}

const stop = new AbortController();
// Each take under way listens, and there may be any number of them.
setMaxListeners(0, stop.signal);

/** Aborts with StoppedBy. */
export const stopSignal = stop.signal;

/** Runs work in which this thread only waits, or comes back to its events every moment. */
export async function heedingSignals<T>(work: () => Promise<T>): Promise<T> {
  const heed = signals.map((signal) => [signal, () => stop.abort(new StoppedBy(signal))] as const);
  for (const [signal, listener] of heed) process.once(signal, listener);
  try {
    return await work();
  } finally {
    for (const [signal, listener] of heed) process.removeListener(signal, listener);
  }
}
