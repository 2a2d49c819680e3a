/**
 * One take analysed on disk: its files in; report.json, report.md, its two pictures and the changelog's entry out. The
 * terminal command and the editor on a desktop both come through here.
 */
import { asText } from '../common/utf8.ts';
import { join, relative } from 'node:path';
import { correctionsFile } from '../../analysis/hits/corrections.ts';
import { analyse, type Extras } from '../../analysis/pipeline.ts';
import type { Run } from '../../analysis/ports.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { addEntry, addOutcome } from '../../analysis/report/changelog.ts';
import type { Template } from '../../analysis/report/template.ts';
import { isReplaced, replacedFinding } from '../../analysis/report/freshness.ts';
import type { EarlierReport, Inputs, Report } from '../../analysis/results/results.ts';
import { takeFileName } from '../../analysis/take/description.ts';
import { readCorrections, unreadCorrections } from '../common/corrections-file.ts';
import { nodeSha256, openDigests } from './digests.ts';
import { presentFiles } from './freshness.ts';
import type { MachineFolder, TakeFolder } from './machine-folder.ts';
import { openSources, readInside } from './read.ts';
import { readEarlier } from './report-file.ts';
import { checkWritable, writeRetrying } from './write.ts';
import { inputFiles, inputsOf, machineDigests, withStub } from '../common/inputs.ts';
import { textsOf } from '../common/report-texts.ts';
import { readVoices } from './voice-files.ts';
import { withLabelStub } from '../common/label-stub.ts';
import { nodeSolver } from './solver-node.ts';

const changelogName = 'CALIBRATION.md';
const solve = nodeSolver();
const encoder = new TextEncoder();

/**
 * Analyses a take and writes its report files and its entry in the changelog; all of them, or none.
 *
 * @param history reports of the machine's earlier takes, oldest first
 * @param extras  checks and marker readers that others registered
 * @returns the report without its hits: those are in report.json
 * @throws InputProblem where something cannot be used or written; the signal's reason when the run is stopped.
 *         Nothing is written then.
 */
export async function analyseTake(
  machineFolder: MachineFolder,
  take: TakeFolder,
  history: () => Promise<readonly EarlierReport[]>,
  run: Run,
  extras: Extras = {},
): Promise<EarlierReport> {
  const { root, shown, machine } = machineFolder;
  // What would stop the writing is said before the listening, which may take minutes.
  await checkWritable(take.folder, take.shown);
  await checkWritable(root, shown);
  const log = join(shown, changelogName);
  const logText = (bytes: Uint8Array | null) => (bytes === null ? null : asText(bytes, log));
  logText(await readInside(root, join(root, changelogName), log));
  const reportTemplate = await ownTemplate(root, shown, 'report.md.hbs');
  const entryTemplate = await ownTemplate(root, shown, 'entry.md.hbs');
  const earlier = await readEarlier(root, take.folder, take.shown);
  const sources = await openSources(root, take.folder, take.shown);
  const cache = await openDigests(root);
  const correctionsText = await textOfCorrections(root, take);
  const voices = await readVoices(root, shown);
  let whole: Report;
  let inputs: Inputs;
  let replaced: boolean;
  try {
    const files = await inputFiles(sources.files);
    const present = await presentFiles(root, take, sources, cache);
    replaced = earlier !== null && (await isReplaced(earlier, present));
    const ofMachine = await machineDigests(machine, voices, nodeSha256);
    inputs = await inputsOf(files, ofMachine, ({ source }) => present.digest(source.name));
    const input = {
      machine,
      name: take.name,
      files: sources.files,
      // Settings and date of another recording are not this one's.
      earlier: replaced ? null : earlier,
      noticed: replaced ? [replacedFinding(earlier!, machine)] : [],
      corrections: readCorrections(correctionsText),
      unreadCorrections: unreadCorrections(correctionsText),
      voices,
      history,
      ...extras,
    };
    whole = await analyse(input, solve, run);
  } catch (error) {
    throw inItsFolder(error, take, new Set(sources.files.map(({ name }) => name)));
  } finally {
    await sources.close();
  }
  run.progress?.('reporting', 0);
  const takeFile = join(take.folder, takeFileName);
  const shownTakeFile = join(take.shown, takeFileName);
  const described = await readInside(root, takeFile, shownTakeFile);
  const stub = withLabelStub(described && asText(described, shownTakeFile), whole);
  const { report, json, markdown, picture, checksPicture, entry } = textsOf(
    { ...whole, inputs: stub === null ? inputs : await withStub(inputs, stub, nodeSha256) },
    { report: reportTemplate, entry: entryTemplate },
    relative(root, take.folder).replaceAll('\\', '/'),
  );
  run.signal?.throwIfAborted();

  // A report must not look newer than a file it has not seen.
  const now = await openSources(root, take.folder, take.shown);
  if (now.fingerprint !== sources.fingerprint)
    throw new InputProblem(
      take.shown,
      '',
      'its files changed while they were being analysed',
      'wait until the recording is written, then run the command again',
    );
  const file = (name: string, text: string) => ({
    path: join(take.folder, name),
    bytes: encoder.encode(text),
  });
  const reportFiles = [
    file('report.svg', picture),
    file('checks.svg', checksPicture),
    file('report.md', markdown),
  ];
  const questions = stub === null ? [] : [{ path: takeFile, before: described, bytes: encoder.encode(stub) }];
  const changelog = join(root, changelogName);
  await writeRetrying(
    root,
    changelog,
    (before) => {
      const entered = addEntry(logText(before), entry, earlier !== null && !replaced);
      const added = report.outcome === undefined ? entered : addOutcome(entered, report.outcome);
      // report.json comes last: without it the take counts as not analysed, whatever else was written.
      return [
        ...reportFiles,
        ...questions,
        { path: changelog, before, bytes: encoder.encode(added) },
        file('report.json', json),
      ];
    },
    run.signal,
  );
  await cache.save();
  run.progress?.('reporting', 1);
  return report;
}

async function textOfCorrections(root: string, take: TakeFolder): Promise<string | null> {
  const shown = join(take.shown, correctionsFile);
  const bytes = await readInside(root, join(take.folder, correctionsFile), shown);
  return bytes === null ? null : asText(bytes, shown);
}

/** A person's template in place of the built-in one. */
async function ownTemplate(root: string, shown: string, name: string): Promise<Template | undefined> {
  const file = join(shown, 'templates', name);
  const bytes = await readInside(root, join(root, 'templates', name), file);
  return bytes === null ? undefined : { file, text: asText(bytes, file) };
}

/** The core names a take's file by its name alone; of several takes that would leave open whose it is. */
function inItsFolder(error: unknown, { name, shown }: TakeFolder, own: ReadonlySet<string>): unknown {
  if (!(error instanceof InputProblem)) return error;
  const { file, place, what, mend } = error;
  if (file === name) return new InputProblem(shown, place, what, mend);
  return own.has(file) ? new InputProblem(join(shown, file), place, what, mend) : error;
}
