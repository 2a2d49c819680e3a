/** Jobs on values that were handed over: no disk is touched, so that they run in a browser too. */
import { advise } from '../../analysis/advice/advise.ts';
import { correctionsFile } from '../../analysis/hits/corrections.ts';
import { voicesInStep } from '../../analysis/hits/hear-in-step.ts';
import { analyse } from '../../analysis/pipeline.ts';
import type { IntegerSolver, SourceFile } from '../../analysis/ports.ts';
import { ofTune } from '../../analysis/machine/tune.ts';
import { isReplaced, replacedFinding } from '../../analysis/report/freshness.ts';
import { hearBefore } from '../../analysis/report/hear-take.ts';
import { takeFileName } from '../../analysis/take/description.ts';
import { readTake } from '../../analysis/take/read.ts';
import { demoFiles } from '../../samples/make.ts';
import { barrelText } from '../common/barrel-text.ts';
import { comparisonPage } from '../common/comparison-page.ts';
import { readCorrections, unreadCorrections } from '../common/corrections-file.ts';
import { digestOf, inputFiles, inputsOf, machineDigests, webSha256, withStub } from '../common/inputs.ts';
import { withLabelStub } from '../common/label-stub.ts';
import { textsOf } from '../common/report-texts.ts';
import { sheetText } from '../common/sheet-text.ts';
import { readClips } from './clips.ts';
import { solosIn } from './solos.ts';
import { loadExtras } from './plugins.ts';
import type { Workers } from './serve.ts';

export function analyseFiles(
  solve: IntegerSolver,
  load: (plugin: string) => Promise<unknown>,
): Workers['analyseFiles'] {
  return async ({ machine, name, files, earlier, voices, templates, plugins }, run) => {
    const extras = await loadExtras(plugins, load);
    const sources = files.map(({ name, bytes }) => sourceOf(name, bytes));
    const own = files.find((file) => file.name === correctionsFile);
    const ownText = own === undefined ? null : new TextDecoder().decode(own.bytes);
    const found = await inputFiles(sources);
    const ofMachine = await machineDigests(machine, voices, webSha256);
    const inputs = await inputsOf(found, ofMachine, (file) => digestOf(file, webSha256));
    const digests = new Map(inputs.files.map(({ file, sha256 }) => [file, sha256]));
    const present = {
      files: inputs.files.map(({ file, ...rest }) => ({ name: file, ...rest })),
      digest: (file: string) => Promise.resolve(digests.get(file)!),
    };
    const replaced = earlier !== null && (await isReplaced(earlier, present));
    const input = {
      machine,
      name,
      files: sources,
      earlier: replaced ? null : earlier,
      noticed: replaced ? [replacedFinding(earlier, machine)] : [],
      corrections: readCorrections(ownText),
      unreadCorrections: unreadCorrections(ownText),
      voices,
      history: async () => (await run.turn()) ?? [],
      ...extras,
    };
    const report = await analyse(input, solve, run);
    run.progress?.('reporting', 0);
    const takeFile = files.find((file) => file.name === takeFileName);
    const takeText = withLabelStub(takeFile ? new TextDecoder().decode(takeFile.bytes) : null, report);
    const after = takeText === null ? inputs : await withStub(inputs, takeText, webSha256);
    return { ...textsOf({ ...report, inputs: after }, templates), takeText };
  };
}

export const clipsOfFiles: Workers['clipsOfFiles'] = ({ files, wants }) =>
  readClips(
    files.map(({ name, bytes }) => sourceOf(name, bytes)),
    wants,
  );

export const hearFiles: Workers['hearFiles'] = async ({ machine, name, files, voices, report }, run) => {
  const sources = files.map(({ name, bytes }) => sourceOf(name, bytes));
  const read = await readTake(name, sources, machine, {}, run);
  return hearBefore(read, ofTune(machine, report.tune), report, name, { ...run, saved: voices });
};

export const voicesOfFiles: Workers['voicesOfFiles'] = async ({ machine, name, files, voices }, run) => {
  const sources = files.map(({ name, bytes }) => sourceOf(name, bytes));
  const read = await readTake(name, sources, machine, {}, run);
  return voicesInStep(read, ofTune(machine, read.description.tune), run, voices);
};

export const solosOfFiles: Workers['solosOfFiles'] = ({ machine, files, order, voices }, run) =>
  solosIn(
    files.map(({ name, bytes }) => sourceOf(name, bytes)),
    { machine, order, voices },
    run,
  );

export function adviseFrom(solve: IntegerSolver): Workers['advise'] {
  return ({ machine, reports, minutes }, run) => advise(machine, reports, solve, run, { minutes });
}

export const sheet: Workers['sheet'] = ({ machine, newest, advice }) =>
  Promise.resolve(sheetText(machine, newest, advice));

export const comparison: Workers['comparison'] = ({ before, after, names }) =>
  Promise.resolve(comparisonPage(before, after, names));

export const barrel: Workers['barrel'] = ({ machine, tune, report }) =>
  Promise.resolve(barrelText(machine, tune, report));

export const demo: Workers['demo'] = async (_, run) => {
  const files = [];
  for await (const file of demoFiles()) {
    run.signal?.throwIfAborted();
    files.push(file);
  }
  return files.sort((a, b) => Number(a.path === 'machine.jsonc') - Number(b.path === 'machine.jsonc'));
};

/** A file that is in memory whole. */
export function sourceOf(name: string, bytes: Uint8Array): SourceFile {
  return {
    name,
    sizeBytes: bytes.length,
    read: (start = 0, end = bytes.length) => Promise.resolve(bytes.subarray(start, end)),
  };
}
