/** Starts the analysis as a thread of Node, for desktops and remote hosts. */
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import type { FromWorker, WorkerPort } from './jobs.ts';

/** @param dist path of the folder with the built files */
export function startNodeWorker(dist: string): WorkerPort {
  // Its own standard output would land in the editor's log line by line.
  const worker = new Worker(join(dist, 'worker.js'), { stdout: true, stderr: true });
  worker.postMessage({ kind: 'start', wasm: null });
  return {
    post: (message) => worker.postMessage(message),
    listen: (listener) => void worker.on('message', (message: FromWorker) => listener(message)),
    onEnd: (listener) => {
      worker.on('error', (error: Error) => listener(error.stack ?? error.message));
      worker.on('exit', (code) => listener(`exit code ${code}`));
    },
    end: () => void worker.terminate(),
  };
}
