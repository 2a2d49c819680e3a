/** Many workshops at once: each thread runs this same program, which takes jobs from the first until there are none. */
import { isMainThread, parentPort, Worker } from 'node:worker_threads';
import { nodeSolver } from '../../../extension/files/solver-node.ts';
import { runWorkshop, type Run } from './loop.ts';
import { faultless, situations } from './situations.ts';

/** A machine of a situation; `without` its fault. */
export interface Job {
  readonly situation: number;
  readonly without: boolean;
  readonly seed: number;
}

/** To be called in a thread that `runAll` started; ends when there is nothing more to do. */
export function serveJobs(): Promise<void> {
  const solve = nodeSolver();
  return new Promise((resolve) => {
    parentPort!.on('message', (job: Job | null) => {
      if (job === null) {
        parentPort!.close();
        resolve();
        return;
      }
      const situation = situations[job.situation];
      void runWorkshop(job.without ? faultless(situation) : situation, job.seed, solve).then(
        (run) => parentPort!.postMessage({ run }),
        (error: unknown) =>
          parentPort!.postMessage({
            error: `${situation.name}, seed ${job.seed}: ${error instanceof Error ? error.stack : String(error)}`,
          }),
      );
    });
    parentPort!.postMessage({});
  });
}

type Answer = { readonly run?: Run; readonly error?: string };

/**
 * @param told each run as it is done
 * @returns runs in the order of the jobs
 */
export async function runAll(
  jobs: readonly Job[],
  threads: number,
  told: (job: Job, run: Run) => void,
): Promise<Run[]> {
  if (!isMainThread) throw new Error('only the first thread hands out jobs');
  const runs: Run[] = [];
  let next = 0;
  const one = () =>
    new Promise<void>((resolve, reject) => {
      const worker = new Worker(process.argv[1], { argv: process.argv.slice(2), stdout: true });
      let own = -1;
      worker.on('error', reject);
      worker.on('exit', () => resolve());
      worker.on('message', ({ run, error }: Answer) => {
        if (error !== undefined) reject(new Error(error));
        if (run !== undefined) {
          runs[own] = run;
          told(jobs[own], run);
        }
        own = next++;
        worker.postMessage(own < jobs.length ? jobs[own] : null);
      });
    });
  await Promise.all(Array.from({ length: threads }, one));
  return runs;
}
