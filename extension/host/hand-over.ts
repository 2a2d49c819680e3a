/** Analysis where the worker reaches no disk: its files are read here and handed over, and what it returns is written. */
import { Stopped } from '../work/stopped.ts';
import * as vscode from 'vscode';
import type { Run } from '../../analysis/ports.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { addEntry, addOutcome } from '../../analysis/report/changelog.ts';
import type { Template } from '../../analysis/report/template.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import { reportsBefore } from '../../analysis/take/order.ts';
import { readWithin, writeWithin } from './disk.ts';
import { earlierReports, machineAt, voicesOf } from './machine-files.ts';
import { earlierReport } from './report-files.ts';
import type { TakePlace } from './targets.ts';
import { type AnalysisThread } from '../work/call.ts';
import { pluginsOf, type Workshop } from './workshop.ts';

/** A browser's memory holds a take a few times over while it is decoded. */
const mostBytes = 700e6;

/**
 * @param turn comes when the takes before it have been written, or failed
 * @throws InputProblem, Stopped or Defect; nothing is written then
 */
export async function analyseHandedOver(
  shop: Workshop,
  thread: AnalysisThread,
  take: TakePlace,
  run: Run,
  turn: () => Promise<void>,
): Promise<EarlierReport> {
  const { root, folder, name } = take;
  const machine = await machineAt(root);
  const earlier = await earlierReport(folder);
  const files = await filesOf(take);
  const [report, entry] = await Promise.all(
    ['report.md.hbs', 'entry.md.hbs'].map((file) => template(root, file)),
  );
  const texts = await thread.call(
    'analyseFiles',
    {
      machine,
      name,
      files,
      earlier,
      voices: await voicesOf(root),
      templates: { report, entry },
      plugins: await pluginsOf(shop),
    },
    { ...run, turn: () => turn().then(async () => reportsBefore(await earlierReports(root), name)) },
  );
  if (run.signal?.aborted) throw new Stopped();
  const write = (file: string, text: string) =>
    writeWithin(root, [{ file: vscode.Uri.joinPath(folder, file), bytes: new TextEncoder().encode(text) }]);
  await write('report.svg', texts.picture);
  await write('checks.svg', texts.checksPicture);
  await write('report.md', texts.markdown);
  if (texts.takeText !== null) await write('take.jsonc', texts.takeText);
  await addToLog(root, texts.entry, texts.report, earlier !== null && !isReplacement(texts.report));
  // Last: without it the take counts as not analysed, whatever else was written.
  await write('report.json', texts.json);
  return texts.report;
}

export async function filesOf({ root, folder, name: take }: TakePlace) {
  const { names, bytes } = await sizeOf(folder);
  refuseTooLarge(take, bytes);
  const files = [];
  for (const name of names) {
    const bytes = await readWithin(root, vscode.Uri.joinPath(folder, name));
    if (bytes !== null) files.push({ name, bytes });
  }
  return files;
}

/** @throws InputProblem where files of so many bytes are more than can be handed over */
export function refuseTooLarge(what: string, bytes: number): void {
  if (bytes > mostBytes)
    throw new InputProblem(what, '', 'its files are too large for a browser', 'analyse it on a desktop');
}

async function sizeOf(folder: vscode.Uri) {
  const names = (await vscode.workspace.fs.readDirectory(folder))
    .filter(([name, type]) => (type & vscode.FileType.File) !== 0 && !name.startsWith('.'))
    .map(([name]) => name);
  const stats = names.map((name) => vscode.workspace.fs.stat(vscode.Uri.joinPath(folder, name)));
  return { names, bytes: (await Promise.all(stats)).reduce((sum, { size }) => sum + size, 0) };
}

/** How many of the takes may be handed over at once, at least 1: so many of the largest fit into memory together. */
export async function mostAtOnce(takes: readonly TakePlace[]): Promise<number> {
  const sized = await Promise.allSettled(takes.map(({ folder }) => sizeOf(folder)));
  const sizes = sized.map((each) => (each.status === 'fulfilled' ? each.value.bytes : 0));
  let bytes = 0;
  const fitting = sizes.sort((a, b) => b - a).filter((size) => (bytes += size) <= mostBytes);
  return Math.max(1, fitting.length);
}

async function template(root: vscode.Uri, name: string): Promise<Template | undefined> {
  const file = vscode.Uri.joinPath(root, 'templates', name);
  const bytes = await readWithin(root, file);
  return bytes === null ? undefined : { file: `templates/${name}`, text: new TextDecoder().decode(bytes) };
}

const isReplacement = ({ findings }: EarlierReport) =>
  findings.some(({ kind }) => kind === 'replaced-recording');

/** Adds an entry to CALIBRATION.md as it is on the disk now, and to an earlier one what became of it. */
async function addToLog(
  root: vscode.Uri,
  entry: string,
  { outcome }: EarlierReport,
  again: boolean,
): Promise<void> {
  const file = vscode.Uri.joinPath(root, 'CALIBRATION.md');
  const bytes = await readWithin(root, file);
  const before = bytes && new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);
  const entered = addEntry(before, entry, again);
  const after = outcome === undefined ? entered : addOutcome(entered, outcome);
  if (after !== before) await writeWithin(root, [{ file, bytes: new TextEncoder().encode(after) }]);
}
