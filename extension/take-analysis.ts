/**
 * One take analysed on disk: its files in; report.json, report.md, report.svg and the changelog's entry out. The
 * terminal command and the editor on a desktop both come through here.
 */
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { parseHTML } from 'linkedom';
import { analyse } from '../analysis/pipeline.ts';
import type { Run } from '../analysis/ports.ts';
import { InputProblem } from '../analysis/problem.ts';
import { addEntry } from '../analysis/report/changelog.ts';
import { renderEntry } from '../analysis/report/entry.ts';
import { renderReport } from '../analysis/report/markdown.ts';
import { drawReport } from '../analysis/report/plot.ts';
import { stringifyReport } from '../analysis/report/report.ts';
import type { Template } from '../analysis/report/template.ts';
import type { Report } from '../analysis/results.ts';
import type { MachineFolder, TakeFolder } from './files/machine-folder.ts';
import { asText, openSources, pathWithin, readBytesIfThere } from './files/read.ts';
import { readReport } from './files/report-file.ts';
import { writeRetrying } from './files/write.ts';
import { nodeSolver } from './solver-node.ts';

const changelogName = 'CALIBRATION.md';
const solve = nodeSolver();
const encoder = new TextEncoder();

/**
 * Analyses a take and writes its report files and its entry in the changelog; all of them, or none.
 *
 * @param history reports of the machine's earlier takes, oldest first
 * @returns the report, and the text of report.json
 * @throws InputProblem where something cannot be used or written; the signal's reason when the run is stopped.
 *         Nothing is written then.
 */
export async function analyseTake(
  machineFolder: MachineFolder,
  take: TakeFolder,
  history: readonly Report[],
  run: Run,
): Promise<{ readonly report: Report; readonly json: string }> {
  const { root, shown, machine } = machineFolder;
  const earlier = await readReport(root, take.folder, take.shown);
  const sources = await openSources(root, take.folder, take.shown);
  let report: Report;
  try {
    const input = { machine, name: take.name, files: sources.files, earlier, history };
    report = await analyse(input, solve, run);
  } finally {
    await sources.close();
  }
  run.progress?.('reporting', 0);
  const json = stringifyReport(report);
  const markdown = renderReport(report, await ownTemplate(root, shown, 'report.md.hbs'));
  const entry = renderEntry(report, await ownTemplate(root, shown, 'entry.md.hbs'));
  const picture = drawReport(report, parseHTML('<!doctype html><html><body></body></html>').document);
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
  const reportFiles = [file('report.svg', picture), file('report.md', markdown)];
  const changelog = join(root, changelogName);
  await writeRetrying(
    root,
    changelog,
    (before) => {
      const added = addEntry(before === null ? null : asText(before, join(shown, changelogName)), entry);
      // report.json comes last: without it the take counts as not analysed, whatever else was written.
      return [
        ...reportFiles,
        { path: changelog, before, bytes: encoder.encode(added) },
        file('report.json', json),
      ];
    },
    run.signal,
  );
  run.progress?.('reporting', 1);
  return { report, json };
}

/** true where the take was never analysed, or one of its files or the machine's pattern is newer than its report. */
export async function isStale(machineFolder: MachineFolder, take: TakeFolder): Promise<boolean> {
  const report = await stat(join(take.folder, 'report.json')).catch(() => null);
  if (report === null || machineFolder.patternMs > report.mtimeMs) return true;
  const sources = await openSources(machineFolder.root, take.folder, take.shown);
  return sources.newestMs > report.mtimeMs;
}

/** A person's template in place of the built-in one. */
async function ownTemplate(root: string, shown: string, name: string): Promise<Template | undefined> {
  const folder = join(root, 'templates');
  const file = join(shown, 'templates', name);
  if ((await stat(join(folder, name)).catch(() => null)) === null) return undefined;
  const bytes = await readBytesIfThere(await pathWithin(root, folder, name, file), file);
  return bytes === null ? undefined : { file, text: asText(bytes, file) };
}
