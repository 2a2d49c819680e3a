/** Starts the analysis as a Web Worker, where only a browser runs the editor. */
import * as vscode from 'vscode';
import type { FromWorker, WorkerPort } from '../work/jobs.ts';

/**
 * The worker's code is handed over as text: the built files may lie where the browser cannot fetch them by itself.
 *
 * @param dist the folder with the built files
 */
export async function startWebWorker(dist: vscode.Uri): Promise<WorkerPort> {
  const read = (name: string) => vscode.workspace.fs.readFile(vscode.Uri.joinPath(dist, name));
  const [code, wasm] = await Promise.all([read('worker-web.js'), read('highs.wasm')]);
  const address = URL.createObjectURL(new Blob([new Uint8Array(code)], { type: 'text/javascript' }));
  const worker = new Worker(address, { name: 'Shimwright' });
  worker.postMessage({ kind: 'start', wasm: new Uint8Array(wasm) });
  return {
    post: (message) => worker.postMessage(message),
    listen: (listener) => {
      worker.onmessage = ({ data }: MessageEvent<FromWorker>) => listener(data);
    },
    onEnd: (listener) => {
      worker.onerror = (event) => listener(event.message);
    },
    end: () => {
      worker.terminate();
      URL.revokeObjectURL(address);
    },
  };
}
