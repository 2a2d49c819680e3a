/** Stages all that a calibration consists of and adds a message to what the person typed; the person commits. */
import { reportFileNames } from '../../analysis/results/files.ts';
import * as vscode from 'vscode';
import { looseValue } from '../../analysis/input/jsonc.ts';
import { patternsOf } from '../../analysis/machine/tune.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { oneLine } from '../../analysis/report/markdown-text.ts';
import { verdictOf } from '../../analysis/report/reading.ts';
import { repositoryOf, sayNoGit, type Repository } from './git.ts';
import { exists } from './machine-search.ts';
import { digestsAt } from './freshness.ts';
import { machineAt, takesOf, voiceFiles, type TakeEntry } from './machine-files.ts';
import { pickMachine, type Clicked } from './targets.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Workshop } from './workshop.ts';

const machineFiles = ['machine.jsonc', 'CALIBRATION.md', 'history.svg', 'test-pattern.csv'];
/** A person's own, beside the machine. */
const ownFolders = ['templates'];

export async function commitCalibration(shop: Workshop, clicked: Clicked): Promise<boolean> {
  const root = await pickMachine(shop, clicked);
  if (!root) return false;
  const repository = await repositoryOf(root);
  if (!repository) {
    sayNoGit();
    return false;
  }
  const machine = await machineAt(root);
  const takes = await takesOf(root, machine);
  await repository.add((await calibrationFiles(root, machine, takes)).map(({ fsPath }) => fsPath));
  await repository.status();
  const message = await messageFor(repository, root, machine, takes);
  repository.inputBox.value = withMessage(repository.inputBox.value, message);
  await vscode.commands.executeCommand('workbench.view.scm');
  return true;
}

/** The person's words stand first and whole; ours come below them, once. */
function withMessage(typed: string, message: string): string {
  if (typed.trim() === '') return message;
  return typed.includes(message) ? typed : `${typed.trimEnd()}\n\n${message}`;
}

/** Files that are there. Audio is the person's own business with their repository. */
async function calibrationFiles(
  root: vscode.Uri,
  machine: Machine,
  takes: readonly TakeEntry[],
): Promise<vscode.Uri[]> {
  const named = [
    ...[...machineFiles, ...patternsOf(machine)].map((name) => vscode.Uri.joinPath(root, name)),
    ...takes.flatMap(({ folder }) => reportFileNames.map((name) => vscode.Uri.joinPath(folder, name))),
  ];
  const there = await Promise.all(named.map(exists));
  const voices = (await voiceFiles(root)).map(({ file }) => file);
  const own = await Promise.all(ownFolders.map((name) => filesOf(vscode.Uri.joinPath(root, name))));
  const inputs = await Promise.all(takes.map(({ root, folder }) => textInputs(root, folder)));
  return [...named.filter((_, i) => there[i]), ...voices, ...own.flat(), ...inputs.flat()];
}

/** take.jsonc, corrections.csv and markers of a take: all that was read of it but for its audio. */
async function textInputs(root: vscode.Uri, folder: vscode.Uri): Promise<vscode.Uri[]> {
  // A take whose files cannot be read has nothing that belongs to a calibration yet.
  const files = await digestsAt(root, folder).catch(() => []);
  return files.flatMap(({ file, kind }) => (kind === 'audio' ? [] : [vscode.Uri.joinPath(folder, file)]));
}

async function filesOf(folder: vscode.Uri): Promise<vscode.Uri[]> {
  const entries = await vscode.workspace.fs.readDirectory(folder).then(undefined, () => []);
  return entries.flatMap(([name, type]) =>
    type === vscode.FileType.File ? [vscode.Uri.joinPath(folder, name)] : [],
  );
}

/** "Calibrate: joint-AB 3 → 5", then the newest take with its verdict. */
async function messageFor(
  repository: Repository,
  root: vscode.Uri,
  machine: Machine,
  takes: readonly TakeEntry[],
): Promise<string> {
  const before = await settingsInHead(repository, root);
  const changes = machine.description.adjusters.flatMap(({ id, installed }) => {
    const was = before.get(id);
    return was === undefined || was === installed ? [] : [`${id} ${was} → ${installed}`];
  });
  const newest = takes.findLast(({ report }) => report !== null);
  const head = changes.length === 0 ? 'Calibration' : `Calibrate: ${changes.join(', ')}`;
  if (!newest?.report) return head;
  const { sentence } = verdictOf(newest.report);
  return changes.length === 0
    ? `Calibration: take ${oneLine(newest.name)}\n\n${oneLine(sentence)}`
    : `${head}\n\nTake ${oneLine(newest.name)}: ${oneLine(sentence)}`;
}

async function settingsInHead(repository: Repository, root: vscode.Uri): Promise<Map<string, number>> {
  const file = vscode.Uri.joinPath(root, 'machine.jsonc').fsPath;
  const text = await repository.show('HEAD', file).catch(() => '{}');
  const read = machineSchema.safeParse(looseValue(text));
  return new Map(read.success ? read.data.adjusters.map(({ id, installed }) => [id, installed]) : []);
}
