/** The analysis thread of Node. */
import { parentPort } from 'node:worker_threads';
import { nodeSolver } from '../files/solver-node.ts';
import type { FromWorker, ToWorker } from './jobs.ts';
import {
  analyseFolder,
  clipsOfFolder,
  digestsOfFolder,
  hearFolder,
  listenTo,
  solosOnDisk,
  voicesOfFolder,
  whichMachineOf,
} from './on-disk.ts';
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

const port = parentPort!;
const load = (address: string): Promise<unknown> => import(address);

serve(
  {
    post: (message: FromWorker) => port.postMessage(message),
    listen: (listener) => void port.on('message', (message: ToWorker) => listener(message)),
  },
  () => {
    const solve = nodeSolver();
    return {
      analyseFolder: analyseFolder(load),
      analyseFiles: analyseFiles(solve, load),
      digestsOfFolder,
      clipsOfFolder,
      clipsOfFiles,
      hearFolder,
      listenTo,
      voicesOfFolder,
      whichMachineOf,
      voicesOfFiles,
      solosOnDisk,
      solosOfFiles,
      hearFiles,
      advise: adviseFrom(solve),
      demo,
      sheet,
      comparison,
      barrel,
    };
  },
);
