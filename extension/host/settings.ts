/** Proposed settings: reviewed as a comparison of machine.jsonc, and written once a person says that they are fitted. */
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import { applySettings } from '../../analysis/machine/read.ts';
import { addEntry } from '../../analysis/report/changelog.ts';
import { unnotedSettings } from '../../analysis/report/unnoted.ts';
import { drawerAfter } from '../../analysis/report/work-words.ts';
import { faultOfSetting, type Fitted } from '../common/fitted.ts';
import { refuseUnnoted, workDone } from '../common/work-done.ts';
import { readWithin, refuseLink, saveNoted } from './disk.ts';
import { machineOf } from './machine-files.ts';
import { proposalFor, type Proposal } from './proposal.ts';
import { pickMachine, type Clicked } from './targets.ts';
import { unnotedIn } from './unnoted.ts';
import { nameOf } from './uri-name.ts';
import { publish } from './virtual-texts.ts';
import { picked, said, shown } from './words.ts';
import type { Workshop } from './workshop.ts';

/** Opens the editor's own comparison of machine.jsonc now against proposed. Nothing is written. */
export async function reviewSettings(shop: Workshop, clicked: Clicked): Promise<void> {
  const root = await pickMachine(shop, clicked);
  if (!root) return;
  const proposal = await proposalFor(shop, root);
  const { document, advice } = proposal;
  if (advice.settings.length === 0) {
    void vscode.window.showInformationMessage(said(advice.summary));
    return;
  }
  const settings = Object.fromEntries(advice.settings.map(({ adjuster, proposed }) => [adjuster, proposed]));
  const right = publish(
    [document.uri.toString(), 'machine.jsonc'],
    applySettings(document.getText(), settings),
  );
  const title = vscode.l10n.t('machine.jsonc: now ↔ proposed');
  await vscode.commands.executeCommand('vscode.diff', document.uri, right, title, { preview: false });
}

/** @param done true where the caller has already made sure that the work is done */
export async function acceptAllSettings(shop: Workshop, clicked: Clicked, done?: boolean): Promise<boolean> {
  const root = await pickMachine(shop, clicked);
  if (!root) return false;
  const proposal = await proposalFor(shop, root);
  const { settings, summary } = proposal.advice;
  if (settings.length === 0) {
    void vscode.window.showInformationMessage(said(summary));
    return false;
  }
  // Before it is asked whether the work is done: what was "taken out" of a setting nobody noted leaves any number.
  await refuseInDoubt(proposal, null);
  const list = settings.map(
    ({ adjuster, installed, proposed, unit }) => `${adjuster} ${installed} → ${proposed} (${unit})`,
  );
  return (done === true || (await confirmed(list))) && record(shop, proposal, null);
}

/** @param chosen adjusters whose proposal was carried out; picked from a list where absent */
export async function acceptSomeSettings(
  shop: Workshop,
  clicked: Clicked,
  chosen?: readonly string[],
): Promise<boolean> {
  const root = await pickMachine(shop, clicked);
  if (!root) return false;
  const proposal = await proposalFor(shop, root);
  const { settings } = proposal.advice;
  const ids = chosen ?? (await pickSettings(proposal));
  if (!ids || ids.length === 0) return false;
  await refuseInDoubt(proposal, ids);
  const fitted = settings.filter(({ adjuster }) => ids.includes(adjuster));
  return record(
    shop,
    proposal,
    Object.fromEntries(fitted.map(({ adjuster, proposed }) => [adjuster, proposed])),
  );
}

async function pickSettings({ advice }: Proposal): Promise<string[] | undefined> {
  const items = advice.settings.map(({ adjuster, unit, installed, proposed }) => ({
    label: picked(adjuster),
    description: picked(`${installed} → ${proposed} (${unit})`),
    adjuster,
  }));
  const chosen = await vscode.window.showQuickPick(items, {
    canPickMany: true,
    title: vscode.l10n.t('Which of the proposed settings are fitted?'),
    placeHolder: vscode.l10n.t('What you tick is written into machine.jsonc and CALIBRATION.md as done'),
  });
  return chosen?.map(({ adjuster }) => adjuster);
}

/**
 * @param given      what was fitted; asked for where absent
 * @param asProposed adjusters of `given` whose proposal was ticked as done; of others a person typed the number
 */
export async function enterFittedSettings(
  shop: Workshop,
  clicked: Clicked,
  given?: Fitted,
  asProposed: readonly string[] = [],
): Promise<boolean> {
  const root = await pickMachine(shop, clicked);
  if (!root) return false;
  const proposal = await proposalFor(shop, root);
  const fitted = given ?? (await askFitted(proposal));
  if (!fitted || Object.keys(fitted).length === 0) return false;
  if (asProposed.length > 0) await refuseInDoubt(proposal, asProposed);
  const { adjusters } = proposal.machine.description;
  for (const [id, setting] of Object.entries(fitted)) {
    const adjuster = adjusters.find((each) => each.id === id);
    const fault = adjuster
      ? faultOfSetting(adjuster, String(setting))
      : ['there is no such adjuster', 'check its name'];
    if (fault) throw new InputProblem('machine.jsonc', id, fault[0], fault[1]);
  }
  return record(shop, proposal, fitted);
}

/** Which adjusters, then a number for each. */
async function askFitted({ machine, advice }: Proposal): Promise<Fitted | null> {
  const proposals = new Map(advice.settings.map(({ adjuster, proposed }) => [adjuster, proposed]));
  const items = machine.description.adjusters.map((adjuster) => ({
    label: picked(adjuster.id),
    description: adjuster.name && picked(adjuster.name),
    detail: [
      vscode.l10n.t('now {0} {1}', adjuster.installed, adjuster.unit),
      ...(proposals.has(adjuster.id) ? [vscode.l10n.t('proposed {0}', proposals.get(adjuster.id)!)] : []),
    ].join(', '),
    picked: proposals.has(adjuster.id),
    adjuster,
  }));
  const title = vscode.l10n.t('What was changed on the machine?');
  const chosen = await vscode.window.showQuickPick(items, { canPickMany: true, title });
  if (!chosen) return null;
  const fitted: Record<string, number> = {};
  for (const [i, { adjuster }] of chosen.entries()) {
    const { id, unit, installed, min, max } = adjuster;
    const text = await vscode.window.showInputBox({
      title: vscode.l10n.t('{0} ({1} of {2})', id, i + 1, chosen.length),
      prompt: vscode.l10n.t('{0} now fitted, {1} to {2}; it was {3}', unit, min, max, installed),
      value: String(proposals.get(id) ?? installed),
      ignoreFocusOut: true,
      validateInput: (value) => faultOfSetting(adjuster, value)?.join('; '),
    });
    if (text === undefined) return null;
    fitted[id] = Number(text);
  }
  return fitted;
}

async function confirmed(list: readonly string[]): Promise<boolean> {
  const yes = vscode.l10n.t('The Work Is Done');
  const text = vscode.l10n.t('Record these settings as fitted?');
  const detail = [
    ...list.map(shown),
    '',
    vscode.l10n.t('They are written into machine.jsonc and CALIBRATION.md.'),
  ].join('\n');
  return (await vscode.window.showInformationMessage(text, { modal: true, detail }, yes)) === yes;
}

/**
 * @param done adjusters whose proposal was carried out; null: all of it
 * @throws InputProblem where what they are counted from nobody noted
 */
async function refuseInDoubt(
  { root, document, machine, newest, advice }: Proposal,
  done: readonly string[] | null,
): Promise<void> {
  const unnoted = await unnotedIn(root, machine, newest);
  refuseUnnoted({ machine, text: document.getText(), newest, advice, unnoted, enter }, done);
}

/** How a person says what is fitted, in the editor. */
const enter = (adjusters: readonly string[]) =>
  vscode.l10n.t('choose "Enter Settings Really Fitted" for {0}', adjusters.join(', '));

/**
 * Writes machine.jsonc and the changelog's entry as one edit, which can be undone like any other.
 *
 * @param fitted what was really fitted; null where the proposal was followed
 * @throws InputProblem where a file has changes that are not saved, or cannot be written
 */
async function record(shop: Workshop, proposal: Proposal, fitted: Fitted | null): Promise<boolean> {
  const { root, document, newest, advice } = proposal;
  const log = vscode.Uri.joinPath(root, 'CALIBRATION.md');
  await refuseLink(root, log);
  const logDocument = await vscode.workspace.openTextDocument(log).then(undefined, () => null);
  for (const each of [document, logDocument]) if (each !== null) await caughtUp(root, each);
  const machine = await machineOf(root, document.getText());
  const unnoted = unnotedSettings(machine, newest, logDocument?.getText() ?? null);
  const text = document.getText();
  const work = workDone({ machine, text, newest, advice, unnoted, enter }, fitted, new Date());
  if (!work) return false;
  for (const each of [document, logDocument])
    if (each?.isDirty) {
      const name = nameOf(each.uri);
      throw new InputProblem(
        name,
        '',
        'has changes that are not saved',
        'save or undo them, then accept again',
      );
    }
  const logText = addEntry(logDocument?.getText() ?? null, work.entry);
  const [onDisk, logOnDisk] = await Promise.all([document.uri, log].map((file) => readWithin(root, file)));
  // The log first: were the machine's file alone to be saved, nobody would know why.
  const changes = [
    { file: log, before: logOnDisk, bytes: asSaved(logDocument, logOnDisk, logText) },
    { file: document.uri, before: onDisk, bytes: asSaved(document, onDisk, work.description) },
  ];
  await saveNoted(root, changes, () => save(document, work.description, logDocument ?? log, logText));
  shop.log.info(
    work.changed.map(({ adjuster, before, after }) => `${adjuster} ${before} → ${after}`).join(', '),
  );
  shop.changed();
  const drawer = work.changed.length === 0 ? null : drawerAfter(advice.stock, work.isAsPlanned);
  if (drawer !== null) void vscode.window.showInformationMessage(said(drawer));
  return true;
}

/** The editor hears of a file that was written beside it within a second or two; on a busy computer later. */
const hearsWithinMs = 20_000;
const looksEveryMs = 100;

/**
 * Waits until a document that nobody changes in the editor holds what is on the disk: an analysis that has just ended wrote its
 * entry there, and an edit of what was there before could not be saved.
 */
async function caughtUp(root: vscode.Uri, document: vscode.TextDocument): Promise<void> {
  for (let waitedMs = 0; waitedMs < hearsWithinMs && !document.isDirty; waitedMs += looksEveryMs) {
    const bytes = await readWithin(root, document.uri);
    const onDisk = bytes && (await decoded(bytes, document));
    if (onDisk === null || plainEnds(onDisk) === plainEnds(document.getText())) return;
    await new Promise((resolve) => setTimeout(resolve, looksEveryMs));
  }
}

/** As the editor reads it, in whatever encoding; null where it takes it for no text. */
const decoded = (bytes: Uint8Array, { encoding }: vscode.TextDocument) =>
  vscode.workspace.decode(bytes, { encoding }).then(undefined, () => null);

const plainEnds = (text: string) => text.replace(/\r\n?/g, '\n');

/** One edit of both files, saved. @throws InputProblem where that cannot be done; both are put back then */
async function save(
  document: vscode.TextDocument,
  description: string,
  log: vscode.TextDocument | vscode.Uri,
  logText: string,
): Promise<boolean> {
  const logDocument = log instanceof vscode.Uri ? null : log;
  const before = [
    [logDocument, logDocument?.getText() ?? null],
    [document, document.getText()],
  ] as const;
  const edit = new vscode.WorkspaceEdit();
  if (log instanceof vscode.Uri) edit.createFile(log, { contents: new TextEncoder().encode(logText) });
  else edit.replace(log.uri, whole(log), logText);
  edit.replace(document.uri, whole(document), description);
  if (!(await vscode.workspace.applyEdit(edit)))
    throw new InputProblem(
      'machine.jsonc',
      '',
      'could not be written',
      'check that the folder can be written',
    );
  for (const [each] of before)
    if (each && !(await each.save().then(undefined, () => false))) {
      await putBack(before, log instanceof vscode.Uri ? log : null);
      throw new InputProblem(
        'machine.jsonc',
        '',
        'could not be saved, and CALIBRATION.md is as it was',
        'check that the folder can be written',
      );
    }
  return true;
}

/** The bytes that the editor makes of a text when it saves it: with the mark and the line ends that the file has. */
function asSaved(document: vscode.TextDocument | null, onDisk: Uint8Array | null, text: string): Uint8Array {
  const ends =
    document === null ? text : text.replace(/\r?\n/g, document.eol === vscode.EndOfLine.CRLF ? '\r\n' : '\n');
  const hasMark = onDisk?.[0] === 0xef && onDisk[1] === 0xbb && onDisk[2] === 0xbf;
  return new TextEncoder().encode(hasMark && !ends.startsWith('\uFEFF') ? `\uFEFF${ends}` : ends);
}

/** Both files as they were, on the disk too where that can be written: neither says what the other does not. @param made for it */
async function putBack(
  files: readonly (readonly [vscode.TextDocument | null, string | null])[],
  made: vscode.Uri | null,
): Promise<void> {
  const edit = new vscode.WorkspaceEdit();
  if (made !== null) edit.deleteFile(made, { ignoreIfNotExists: true });
  for (const [document, text] of files)
    if (document !== null && text !== null) edit.replace(document.uri, whole(document), text);
  await vscode.workspace.applyEdit(edit);
  for (const [document] of files) await document?.save().then(undefined, () => false);
}

function whole(document: vscode.TextDocument): vscode.Range {
  return new vscode.Range(0, 0, document.lineCount, 0);
}
