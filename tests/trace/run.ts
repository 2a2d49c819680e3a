/** npm run trace -- TAKE SECONDS: what every stage makes of one moment of a take on disk. */
import { ofTune } from '../../analysis/machine/tune.ts';
import { readTake } from '../../analysis/take/read.ts';
import { locate, readMachineFolder } from '../../extension/files/machine-folder.ts';
import { openSources } from '../../extension/files/read.ts';
import { readVoices } from '../../extension/files/voice-files.ts';
import { trace } from './trace.ts';

const [folder, seconds] = process.argv.slice(2);
const timeS = Number(seconds);
if (folder === undefined || seconds === undefined || !Number.isFinite(timeS))
  throw new Error(
    'give a take’s folder and a time in seconds: npm run trace -- demo-machine/takes/may 12.34',
  );
const { root, shownRoot, take } = await locate(folder);
if (take === null) throw new Error(`${folder} is no take’s folder`);
const { machine } = await readMachineFolder(root, shownRoot);
const sources = await openSources(root, take.folder, take.shown);
try {
  const read = await readTake(take.name, sources.files, machine, {}, {});
  const own = ofTune(machine, read.description.tune);
  for (const line of await trace(read, own, timeS, await readVoices(root, shownRoot))) console.log(line);
} finally {
  await sources.close();
}
