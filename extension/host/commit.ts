/** Stages the machine, its reports and the changelog, and prepares a message; the person commits. */
import * as vscode from 'vscode';
import { looseValue } from '../../analysis/jsonc.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { oneLine } from '../../analysis/report/markdown-text.ts';
import { verdictOf } from '../../analysis/report/reading.ts';
import { repositoryOf, sayNoGit, type Repository } from './git.ts';
import { exists } from './machine-search.ts';
import { machineAt, takesOf, type TakeEntry } from './machine-files.ts';
import { pickMachine, type Clicked } from './targets.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Workshop } from './workshop.ts';

/** What a calibration consists of; audio is the person's own business with their repository. */
const machineFiles = ['machine.jsonc', 'CALIBRATION.md'];
const takeFiles = ['take.jsonc', 'report.json', 'report.md', 'report.svg', 'checks.svg', 'corrections.csv'];

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
  const candidates = [
    ...[...machineFiles, machine.description.pattern].map((name) => vscode.Uri.joinPath(root, name)),
    ...takes.flatMap(({ folder }) => takeFiles.map((name) => vscode.Uri.joinPath(folder, name))),
  ];
  const there = await Promise.all(candidates.map(exists));
  await repository.add(candidates.filter((_, i) => there[i]).map(({ fsPath }) => fsPath));
  await repository.status();
  repository.inputBox.value = await messageFor(repository, root, machine, takes);
  await vscode.commands.executeCommand('workbench.view.scm');
  return true;
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
