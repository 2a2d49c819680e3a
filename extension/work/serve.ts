/** The worker's side: takes orders one after another, tells how far it is, and answers with a value or a failure. */
import { Stopped } from './stopped.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type {
  Failure,
  FromWorker,
  History,
  JobName,
  JobRun,
  Jobs,
  Order,
  JobOutcome,
  Port,
  ToWorker,
} from './jobs.ts';

export type Workers = {
  readonly [J in JobName]: (order: Order<J>, run: JobRun) => Promise<JobOutcome<J>>;
};

/** How often a stage's progress is told, at most: more is not seen and costs messages. */
const progressEveryMs = 50;

/** @param prepare makes the jobs once the start message is there */
export function serve(
  port: Port<FromWorker, ToWorker>,
  prepare: (start: Extract<ToWorker, { kind: 'start' }>) => Workers,
): void {
  const stops = new Map<number, AbortController>();
  const turns = new Map<number, (history: History) => void>();
  let workers: Workers | undefined;
  port.listen((message) => {
    if (message.kind === 'start') workers = prepare(message);
    else if (message.kind === 'stop') stops.get(message.id)?.abort(new Stopped());
    else if (message.kind === 'turn') turns.get(message.id)?.(message.history);
    else void work(message.id, message.job, message.order as Order<keyof Jobs>);
  });

  async function work(id: number, job: JobName, order: Order<JobName>) {
    const stop = new AbortController();
    stops.set(id, stop);
    let told = { stage: '', atMs: 0 };
    const run: JobRun = {
      signal: stop.signal,
      progress: (stage, fraction) => {
        const nowMs = Date.now();
        if (stage === told.stage && nowMs - told.atMs < progressEveryMs) return;
        told = { stage, atMs: nowMs };
        port.post({ kind: 'progress', id, stage, fraction });
      },
      turn: () =>
        new Promise((resolve, reject) => {
          stop.signal.addEventListener('abort', () => reject(stop.signal.reason as Error));
          turns.set(id, resolve);
          port.post({ kind: 'measured', id });
        }),
    };
    try {
      if (!workers) throw new Error('the worker was not started');
      const outcome = await (workers[job] as (order: unknown, run: JobRun) => Promise<unknown>)(order, run);
      port.post({ kind: 'done', id, outcome });
    } catch (error) {
      port.post({ kind: 'failed', id, failure: failureOf(error) });
    } finally {
      stops.delete(id);
      turns.delete(id);
    }
  }
}

function failureOf(error: unknown): Failure {
  if (error instanceof InputProblem) {
    const { file, place, what, mend } = error;
    return { kind: 'input', file, place, what, mend };
  }
  if (error instanceof Stopped) return { kind: 'stopped' };
  return { kind: 'defect', trace: error instanceof Error ? (error.stack ?? error.message) : String(error) };
}
