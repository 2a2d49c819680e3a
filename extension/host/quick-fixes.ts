/** Quick fixes of a misplaced pin: the pattern is wrong, or the barrel is. Only the person can know which. */
import * as vscode from 'vscode';
import { addEntry } from '../../analysis/report/changelog.ts';
import { digest, entryMark } from '../../analysis/report/entry.ts';
import { markdownText } from '../../analysis/report/markdown-text.ts';
import type { Finding } from '../../analysis/results/results.ts';
import { shown } from './words.ts';
import { localDate } from '../common/work-done.ts';
import { refuseLink } from './disk.ts';
import { FindingDiagnostic } from './diagnostics.ts';

export const quickFixes: vscode.CodeActionProvider = {
  provideCodeActions: (document, _, { diagnostics }) =>
    diagnostics.flatMap((shown) => {
      const ours = oursOf(document, shown);
      return ours ? fixesOf(document, ours) : [];
    }),
};

/** The editor hands back a plain copy of a diagnostic; ours still has its finding. */
function oursOf(document: vscode.TextDocument, shown: vscode.Diagnostic): FindingDiagnostic | undefined {
  return vscode.languages
    .getDiagnostics(document.uri)
    .find(
      (each): each is FindingDiagnostic =>
        each instanceof FindingDiagnostic &&
        each.range.isEqual(shown.range) &&
        each.message === shown.message,
    );
}

function fixesOf(document: vscode.TextDocument, diagnostic: FindingDiagnostic): vscode.CodeAction[] {
  const { finding, root } = diagnostic;
  const { step, foundStep, channel } = finding;
  if (finding.kind !== 'misplaced-pin' || step === undefined || foundStep === undefined) return [];
  if (vscode.workspace.isTrusted === false) return [];
  const write = new vscode.CodeAction(
    vscode.l10n.t('The barrel is right: write step {0} to the pattern', foundStep),
    vscode.CodeActionKind.QuickFix,
  );
  const range = cellOf(document, diagnostic.range.start.line, step);
  if (range) {
    write.edit = new vscode.WorkspaceEdit();
    write.edit.replace(document.uri, range, String(foundStep));
  }
  const move = new vscode.CodeAction(
    vscode.l10n.t(
      'The pattern is right: note in CALIBRATION.md to move the pin of {0} to step {1}',
      shown(channel ?? ''),
      step,
    ),
    vscode.CodeActionKind.QuickFix,
  );
  move.command = { command: 'shimwright.notePin', title: move.title, arguments: [root, finding] };
  for (const action of [write, move]) action.diagnostics = [diagnostic];
  return range ? [write, move] : [move];
}

/** The cell of a row that holds a step. */
function cellOf(document: vscode.TextDocument, line: number, step: number): vscode.Range | null {
  const { text } = document.lineAt(line);
  const match = new RegExp(`(?<![\\w.])0*${step}(?![\\w.])`).exec(text);
  return match && new vscode.Range(line, match.index, line, match.index + match[0].length);
}

/** Adds to the changelog that a pin is to be moved. */
export async function notePin(root: vscode.Uri, { channel, step, foundStep }: Finding): Promise<void> {
  const file = vscode.Uri.joinPath(root, 'CALIBRATION.md');
  await refuseLink(root, file);
  const document = await vscode.workspace.openTextDocument(file).then(undefined, () => null);
  const pin = `${channel} ${step} ${foundStep}`;
  const entry = [
    entryMark(`pin ${digest(pin)}`),
    `## ${localDate(new Date())}: a pin to move`,
    '',
    `The pin of **${markdownText(channel ?? '')}** belongs at step ${step} and was heard at step ${foundStep}. The pattern stays; move the pin.`,
    '',
    '- Done by:',
    '- Remarks:',
    '',
  ].join('\n');
  const wasDirty = document?.isDirty ?? false;
  const edit = new vscode.WorkspaceEdit();
  const text = addEntry(document?.getText() ?? null, entry);
  if (document) edit.replace(file, new vscode.Range(0, 0, document.lineCount, 0), text);
  else edit.createFile(file, { contents: new TextEncoder().encode(text) });
  await vscode.workspace.applyEdit(edit);
  if (!wasDirty) await (await vscode.workspace.openTextDocument(file)).save();
}
