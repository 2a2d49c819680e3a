/** The analysis thread in a browser. */
import { highsSolver } from '../common/solver.ts';
import type { FromWorker, ToWorker } from './jobs.ts';
import {
  adviseFrom,
  analyseFiles,
  barrel,
  clipsOfFiles,
  comparison,
  demo,
  hearFiles,
  sheet,
  solosOfFiles,
  voicesOfFiles,
} from './on-values.ts';
import { serve } from './serve.ts';

const scope = globalThis as unknown as Pick<Worker, 'postMessage' | 'addEventListener'>;

serve(
  {
    post: (message: FromWorker) => scope.postMessage(message),
    listen: (listener) =>
      scope.addEventListener('message', ({ data }: MessageEvent<ToWorker>) => listener(data)),
  },
  ({ wasm }) => {
    const solve = highsSolver(() =>
      wasm ? Promise.resolve(wasm) : Promise.reject(new Error('the solver was not handed over')),
    );
    return {
      analyseFolder: () => Promise.reject(new Error('a browser reaches no disk')),
      digestsOfFolder: () => Promise.reject(new Error('a browser reaches no disk')),
      clipsOfFolder: () => Promise.reject(new Error('a browser reaches no disk')),
      analyseFiles: analyseFiles(solve, importText),
      clipsOfFiles,
      voicesOfFolder: () => Promise.reject(new Error('a browser reaches no disk')),
      solosOnDisk: () => Promise.reject(new Error('a browser reaches no disk')),
      hearFolder: () => Promise.reject(new Error('a browser reaches no disk')),
      listenTo: () => Promise.reject(new Error('a browser reaches no disk')),
      whichMachineOf: () => Promise.reject(new Error('a browser reaches no disk')),
      hearFiles,
      voicesOfFiles,
      solosOfFiles,
      advise: adviseFrom(solve),
      demo,
      sheet,
      comparison,
      barrel,
    };
  },
);

async function importText(code: string): Promise<unknown> {
  const address = URL.createObjectURL(new Blob([code], { type: 'text/javascript' }));
  try {
    return await import(address);
  } finally {
    URL.revokeObjectURL(address);
  }
}
