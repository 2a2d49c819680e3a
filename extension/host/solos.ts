/** "Learn Voices from Solos": each striker struck by hand teaches how it sounds, and which microphone stands at it. */
import * as vscode from 'vscode';
import type { Solos } from '../../analysis/hits/solos/solos.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { savedWords } from '../common/saved-words.ts';
import { orderIn, soloWords, tracksText } from '../common/solo-words.ts';
import { voicesFolder } from '../../analysis/hits/learn/saved-voice.ts';
import { cancellable } from './cancellable.ts';
import { readWithin } from './disk.ts';
import { refuseTooLarge } from './hand-over.ts';
import { machineAt, voicesOf } from './machine-files.ts';
import { pickMachine, type Clicked } from './targets.ts';
import { nameOf } from './uri-name.ts';
import { keepVoices } from './voices.ts';
import { said } from './words.ts';
import type { Workshop } from './workshop.ts';

/** What a caller knows already, in place of asking. */
export interface KnownSolos {
  readonly files: readonly vscode.Uri[];
  /** As a person would type it. */
  readonly order: string;
}

/** @returns the channels whose voices were saved; null where the person gave up */
export async function learnSolos(
  shop: Workshop,
  clicked: Clicked,
  known?: KnownSolos,
): Promise<string[] | null> {
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const machine = await machineAt(root);
  const files = known?.files ?? (await pickFiles());
  if (files === undefined || files.length === 0) return null;
  const usual = machine.description.channels.map(({ id }) => id).join(', ');
  const typed = known?.order ?? (await askOrder(usual, (value) => faultOf(value, machine)));
  if (typed === undefined) return null;
  // The machine's own order is what is taken where nothing is said: then files named for channels tell by themselves.
  const order = typed.trim() === usual ? null : orderIn(typed, machine, vscode.l10n.t('order'));
  const heard = await cancellable(vscode.l10n.t('Learning how each striker sounds'), (signal) =>
    hear(shop, { root, files, order }, signal),
  );
  await keepVoices(shop, root, heard.learnt.saved);
  tell(heard);
  return heard.learnt.saved.map(({ channel }) => channel);
}

async function hear(
  shop: Workshop,
  { root, files, order }: { root: vscode.Uri; files: readonly vscode.Uri[]; order: readonly string[] | null },
  signal: AbortSignal,
): Promise<Solos> {
  if (shop.platform.reaches(root) && files.every((file) => shop.platform.reaches(file))) {
    const shown = vscode.workspace.asRelativePath(root);
    const paths = files.map(({ fsPath }) => fsPath);
    return shop.thread.call('solosOnDisk', { root: root.fsPath, shown, files: paths, order }, { signal });
  }
  const [machine, voices] = await Promise.all([machineAt(root), voicesOf(root)]);
  const sizes = await Promise.all(files.map(sizeOf));
  const bytes = sizes.reduce((sum, size) => sum + size, 0);
  refuseTooLarge(files.map(nameOf).join(', '), bytes);
  const read = [];
  for (const file of files) {
    const name = nameOf(file);
    const bytes = await readWithin(vscode.Uri.joinPath(file, '..'), file);
    if (bytes === null) throw new InputProblem(name, '', 'is not there', 'choose the recording again');
    read.push({ name, bytes });
  }
  return shop.thread.call('solosOfFiles', { machine, files: read, order, voices }, { signal });
}

/** One that is not there is told of when it is read. */
const sizeOf = (file: vscode.Uri) =>
  vscode.workspace.fs.stat(file).then(
    ({ size }) => size,
    () => 0,
  );

/** What is for take.jsonc can be copied: the recording may not be a take of the machine. */
function tell(heard: Solos): void {
  const lines = [
    ...soloWords(heard),
    ...savedWords(heard.learnt, (channel) => `${voicesFolder}/${channel}.json`),
  ];
  const tracks = tracksText(heard);
  const copy = vscode.l10n.t('Copy Tracks for take.jsonc');
  void vscode.window
    .showInformationMessage(said(lines.join('. ')), ...(tracks === null ? [] : [copy]))
    .then((chosen) => {
      if (chosen === copy && tracks !== null) void vscode.env.clipboard.writeText(tracks);
    });
}

async function pickFiles(): Promise<vscode.Uri[] | undefined> {
  return vscode.window.showOpenDialog({
    canSelectMany: true,
    title: vscode.l10n.t(
      'A recording of the strikers struck by hand one after another, ten times each, or a file each',
    ),
  });
}

function askOrder(value: string, fault: (value: string) => string | null) {
  return vscode.window.showInputBox({
    title: vscode.l10n.t('In which order are they struck?'),
    prompt: vscode.l10n.t('"-" stands for something else that was struck there'),
    value,
    ignoreFocusOut: true,
    validateInput: fault,
  });
}

function faultOf(typed: string, machine: Awaited<ReturnType<typeof machineAt>>): string | null {
  try {
    orderIn(typed, machine, '');
    return null;
  } catch (error) {
    if (error instanceof InputProblem) return `${error.what}; ${error.mend}`;
    throw error;
  }
}
