/** "Create New Machine": a few questions, then a commented machine.jsonc and its pattern. And the demo machine. */
import * as vscode from 'vscode';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { channelsIn, newMachine, repeated, type MachineAnswers } from '../common/new-machine.ts';
import { cancellable } from './cancellable.ts';
import { writeWithin } from './disk.ts';
import { exists } from './machine-search.ts';
import type { Workshop } from './workshop.ts';

/** @returns the new machine's folder; null where the person gave up */
export async function createMachine(
  shop: Workshop,
  into?: vscode.Uri,
  given?: MachineAnswers,
): Promise<vscode.Uri | null> {
  const folder = into ?? (await pickFolder(vscode.l10n.t('Folder for the new machine')));
  if (!folder) return null;
  await refuseTaken(folder);
  const answers = given ?? (await ask());
  if (!answers) return null;
  const { machine, pattern } = newMachine(answers);
  await write(folder, 'pattern.csv', new TextEncoder().encode(pattern));
  await write(folder, 'machine.jsonc', new TextEncoder().encode(machine));
  shop.changed();
  await vscode.commands.executeCommand('vscode.open', vscode.Uri.joinPath(folder, 'machine.jsonc'));
  offerToOpen(folder);
  return folder;
}

/** Writes the demo machine with its takes into a folder. */
export async function createDemoMachine(shop: Workshop, into?: vscode.Uri): Promise<vscode.Uri | null> {
  const parent = into
    ? undefined
    : await pickFolder(vscode.l10n.t('Folder in which to put the demo machine'));
  const folder = into ?? (parent && vscode.Uri.joinPath(parent, 'demo-machine'));
  if (!folder) return null;
  await refuseTaken(folder);
  await cancellable(vscode.l10n.t('Making the demo machine'), async (signal, progress) => {
    progress.report({ message: vscode.l10n.t('playing its takes') });
    const files = await shop.thread.call('demo', {}, { signal });
    for (const { path, bytes } of files) {
      progress.report({ message: path, increment: 100 / files.length });
      await write(folder, path, bytes);
    }
  });
  shop.changed();
  offerToOpen(folder);
  return folder;
}

/** Nothing of the person's is overwritten. */
async function refuseTaken(folder: vscode.Uri): Promise<void> {
  for (const name of ['machine.jsonc', 'pattern.csv'])
    if (await exists(vscode.Uri.joinPath(folder, name)))
      throw new InputProblem(
        vscode.workspace.asRelativePath(folder),
        '',
        `holds a ${name} already`,
        'pick another folder; nothing of yours is overwritten',
      );
}

async function write(folder: vscode.Uri, path: string, bytes: Uint8Array): Promise<void> {
  const file = vscode.Uri.joinPath(folder, ...path.split('/'));
  await vscode.workspace.fs.createDirectory(vscode.Uri.joinPath(file, '..'));
  await writeWithin(folder, [{ file, bytes, before: null }]);
}

async function pickFolder(title: string): Promise<vscode.Uri | undefined> {
  const defaultUri = vscode.workspace.workspaceFolders?.[0]?.uri;
  const options = { canSelectFiles: false, canSelectFolders: true, defaultUri, title };
  return (await vscode.window.showOpenDialog(options))?.[0];
}

function offerToOpen(folder: vscode.Uri): void {
  if (vscode.workspace.getWorkspaceFolder(folder)) return;
  const open = vscode.l10n.t('Open Folder');
  const text = vscode.l10n.t('The machine is in {0}.', folder.path);
  void vscode.window.showInformationMessage(text, open).then((chosen) => {
    if (chosen === open) void vscode.commands.executeCommand('vscode.openFolder', folder);
  });
}

async function ask(): Promise<MachineAnswers | null> {
  const name = await text(vscode.l10n.t('What is the machine called?'), '', (value) =>
    value.trim() === '' ? vscode.l10n.t('give it a name') : null,
  );
  if (name === undefined) return null;
  const steps = await number(vscode.l10n.t('Pin positions in one turn of the barrel'), 240, 2, 100_000);
  if (steps === undefined) return null;
  const stepsPerBeat = await number(vscode.l10n.t('Pin positions in one beat'), 4, 1, steps);
  if (stepsPerBeat === undefined) return null;
  const diameterMm = await number(vscode.l10n.t('Diameter of the pin circle, mm'), 400, 1, 100_000);
  if (diameterMm === undefined) return null;
  const sectors = await number(
    vscode.l10n.t('How many separately bolted sectors has the barrel? 1 if it is one piece'),
    1,
    1,
    steps,
  );
  if (sectors === undefined) return null;
  const channels = await text(
    vscode.l10n.t('Its strikers, separated by commas; first the one against which the others are timed'),
    'block, drum, bell',
    (value) => faultOfChannels(channelsIn(value)),
  );
  if (channels === undefined) return null;
  return { name: name.trim(), steps, stepsPerBeat, diameterMm, sectors, channels: channelsIn(channels) };
}

function faultOfChannels(ids: readonly string[]): string | null {
  if (ids.length === 0) return vscode.l10n.t('name at least one');
  const twice = repeated(ids);
  if (twice !== null) return vscode.l10n.t('"{0}" is there twice', twice);
  const read = machineSchema.shape.channels.safeParse(ids.map((id) => ({ id })));
  return read.success ? null : read.error.issues[0].message;
}

function text(title: string, value: string, fault: (value: string) => string | null) {
  return vscode.window.showInputBox({ title, value, ignoreFocusOut: true, validateInput: fault });
}

async function number(title: string, value: number, min: number, max: number): Promise<number | undefined> {
  const whole = vscode.l10n.t('a whole number from {0} to {1}', min, max);
  const given = await text(title, String(value), (typed) =>
    /^\d{1,6}$/.test(typed.trim()) && Number(typed) >= min && Number(typed) <= max ? null : whole,
  );
  return given === undefined ? undefined : Number(given);
}
