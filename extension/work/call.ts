/** The host's side: starts a worker when it is first needed, gives it jobs, and turns its failures back into errors. */
import { Stopped } from './stopped.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Failure, FromWorker, JobName, JobRun, Order, JobOutcome, WorkerPort } from './jobs.ts';

/** A fault of this program; the trace is for the log. */
export class Defect extends Error {}

/** How long a worker may take to heed a stop before its thread is ended. */
const stopPatienceMs = 4000;

/** The same while its results are written, which takes a part of a second; a crash then is mended at the next start. */
const writingPatienceMs = 15_000;

export interface AnalysisThread {
  /**
   * Runs one job off the editor's thread.
   *
   * @throws InputProblem, Stopped, or Defect
   */
  call<J extends JobName>(job: J, order: Order<J>, run?: CallRun): Promise<JobOutcome<J>>;
  /** Ends the thread; jobs under way fail with Stopped. */
  dispose(): void;
}

/** Without `turn` a job's turn comes at once, and it reads the history itself. */
export type CallRun = Partial<JobRun>;

interface Waiting {
  readonly job: JobName;
  readonly order: unknown;
  readonly run: CallRun;
  readonly settle: (outcome: unknown) => void;
  readonly fail: (error: Error) => void;
  /** The stage last told: what is being written is let finish. */
  stage: string;
}

/** @param start starts the thread and tells it what it must know */
export function openThread(start: () => Promise<WorkerPort>): AnalysisThread {
  const waiting = new Map<number, Waiting>();
  let thread: Promise<WorkerPort> | undefined;
  let nextId = 1;

  const failAll = (error: Error) => {
    thread = undefined;
    for (const job of waiting.values()) job.fail(error);
    waiting.clear();
  };

  const started = () => {
    const own: Promise<WorkerPort> = start().then((opened) => {
      // One that was ended speaks no more for the jobs, which another thread has taken over.
      const isCurrent = () => thread === own;
      opened.onEnd((reason) => {
        if (isCurrent()) failAll(new Defect(`the analysis thread ended: ${reason}`));
      });
      opened.listen((message) => {
        if (isCurrent()) hear(opened, message);
      });
      return opened;
    });
    return own;
  };

  const hear = (opened: WorkerPort, message: FromWorker) => {
    const job = waiting.get(message.id);
    if (!job) return; // stopped and given up
    if (message.kind === 'progress') {
      job.stage = message.stage;
      job.run.progress?.(message.stage, message.fraction);
      return;
    }
    if (message.kind === 'measured') {
      const { id } = message;
      (job.run.turn?.() ?? Promise.resolve(null)).then(
        (history) => opened.post({ kind: 'turn', id, history }),
        (error: Error) => {
          waiting.delete(id);
          opened.post({ kind: 'stop', id });
          job.fail(error);
        },
      );
      return;
    }
    waiting.delete(message.id);
    if (message.kind === 'done') job.settle(message.outcome);
    else job.fail(errorOf(message.failure));
  };

  const end = async () => {
    const opened = thread;
    thread = undefined;
    (await opened?.catch(() => undefined))?.end();
  };

  /** Ends the thread for one job's sake; the others begin anew on another one. */
  const endFor = async (id: number) => {
    waiting.get(id)?.fail(new Stopped());
    waiting.delete(id);
    void end();
    if (waiting.size === 0) return;
    thread = started();
    const opened = await thread.catch((error: Error) => failAll(error));
    if (opened) for (const [id, { job, order }] of waiting) opened.post({ kind: 'job', id, job, order });
  };

  return {
    async call<J extends JobName>(job: J, order: Order<J>, run: CallRun = {}): Promise<JobOutcome<J>> {
      if (run.signal?.aborted) throw new Stopped();
      thread ??= started();
      const opened = await thread;
      const id = nextId++;
      return new Promise<JobOutcome<J>>((resolve, reject) => {
        let patience: ReturnType<typeof setTimeout> | undefined;
        const stopped = () => {
          void thread?.then((now) => now.post({ kind: 'stop', id }));
          patience = setTimeout(() => {
            if (entry.stage === 'reporting') patience = setTimeout(() => void endFor(id), writingPatienceMs);
            else void endFor(id);
          }, stopPatienceMs);
        };
        const over = () => {
          clearTimeout(patience);
          run.signal?.removeEventListener('abort', stopped);
        };
        const entry: Waiting = {
          job,
          order,
          run,
          settle: (value) => {
            over();
            resolve(value as JobOutcome<J>);
          },
          fail: (error) => {
            over();
            reject(error);
          },
          stage: '',
        };
        waiting.set(id, entry);
        opened.post({ kind: 'job', id, job, order });
        run.signal?.addEventListener('abort', stopped);
      });
    },
    dispose() {
      void end();
      failAll(new Stopped());
    },
  };
}

function errorOf(failure: Failure): Error {
  switch (failure.kind) {
    case 'input':
      return new InputProblem(failure.file, failure.place, failure.what, failure.mend);
    case 'stopped':
      return new Stopped();
    case 'defect':
      return new Defect(failure.trace);
  }
}
