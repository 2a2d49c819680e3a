/** What moved between two takes, two commits of a report, or the working tree and a commit: as a page and as Markdown. */
import * as vscode from 'vscode';
import { compareReports } from '../../analysis/report/compare.ts';
import { renderComparison } from '../../analysis/report/comparison-text.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import type { Report } from '../../analysis/results/results.ts';
import { comparisonOnTop, showComparisonPage } from './comparison-view.ts';
import { committed, readWithin } from './disk.ts';
import { repositoryOf, sayNoGit } from './git.ts';
import { wholeReport } from './report-files.ts';
import { takesListed, pickMachine, pickTake, takeItems, type Clicked } from './targets.ts';
import { publish, scheme, textAt } from './virtual-texts.ts';
import type { Workshop } from './workshop.ts';

/** Commits offered; older ones are rarely meant. */
const mostCommits = 200;

/** @param names of the two takes; picked where absent */
export async function compareTakes(
  shop: Workshop,
  clicked: Clicked,
  names?: readonly [before: string, after: string],
): Promise<vscode.Uri | null> {
  const root = await pickMachine(shop, clicked);
  if (!root) return null;
  const takes = await takesListed(root, ({ report }) => report !== null);
  const given = names?.map((name) => takes.find((take) => take.name === name));
  const [before, after] = given ?? (await pickTwo(takes));
  if (!before || !after) return null;
  const [earlier, later] = await Promise.all([wholeReport(before.folder), wholeReport(after.folder)]);
  return earlier && later ? show(shop, before.name, earlier, after.name, later) : null;
}

async function pickTwo(takes: Awaited<ReturnType<typeof takesListed>>) {
  const items = await takeItems(takes);
  const after = await vscode.window.showQuickPick(items, { title: vscode.l10n.t('Compare which take …') });
  if (!after) return [];
  const others = items.filter((item) => item !== after);
  const title = vscode.l10n.t('… with which earlier one?');
  const before = await vscode.window.showQuickPick(others, { title });
  return before ? [before.take, after.take] : [];
}

/** A report before: of a commit; after: of another commit, or as it is in the working tree. */
export async function compareCommits(
  shop: Workshop,
  clicked: Clicked,
  commits?: readonly [before: string, after: string | null],
): Promise<vscode.Uri | null> {
  const take = await pickTake(shop, clicked, ({ report }) => report !== null);
  if (!take) return null;
  const repository = await repositoryOf(take.root);
  if (!repository) {
    sayNoGit();
    return null;
  }
  const file = vscode.Uri.joinPath(take.folder, 'report.json');
  const at = async (commit: string | null): Promise<Report> => {
    const name = commit === null ? 'report.json' : `${commit.slice(0, 8)}:report.json`;
    const text =
      commit === null
        ? new TextDecoder().decode((await readWithin(take.root, file)) ?? new Uint8Array())
        : await committed(take.folder, commit, 'report.json');
    return parseReport(name, text);
  };
  const pair =
    commits ?? (await pickCommits(await repository.log({ maxEntries: mostCommits, path: file.fsPath })));
  if (!pair) return null;
  const [before, after] = pair;
  const label = (commit: string | null) =>
    `${take.name} (${commit === null ? vscode.l10n.t('working tree') : commit.slice(0, 8)})`;
  return show(shop, label(before), await at(before), label(after), await at(after));
}

async function pickCommits(
  log: readonly { readonly hash: string; readonly message: string; readonly authorDate?: Date }[],
): Promise<[string, string | null] | null> {
  const items = log.map(({ hash, message, authorDate }) => ({
    label: message.split('\n', 1)[0],
    description: [hash.slice(0, 8), authorDate?.toISOString().slice(0, 10)].filter(Boolean).join(' · '),
    hash: hash,
  }));
  if (items.length === 0) {
    void vscode.window.showInformationMessage(vscode.l10n.t('This report is in no commit yet.'));
    return null;
  }
  const before = await vscode.window.showQuickPick(items, {
    title: vscode.l10n.t('Compare the report of which commit …'),
  });
  if (!before?.hash) return null;
  const working = {
    label: vscode.l10n.t('Working tree'),
    description: vscode.l10n.t('as it is now'),
    hash: null,
  };
  const others = [working, ...items.filter((item) => item !== before)];
  const after = await vscode.window.showQuickPick(others, {
    title: vscode.l10n.t('… with which later one?'),
  });
  return after ? [before.hash, after.hash] : null;
}

async function show(
  shop: Workshop,
  beforeName: string,
  before: Report,
  afterName: string,
  after: Report,
): Promise<vscode.Uri> {
  const text = renderComparison(compareReports(before, after));
  const uri = publish([before.machine, `${beforeName} → ${afterName}.md`], text);
  last = uri;
  const names = [beforeName, afterName] as const;
  const page = await shop.thread.call('comparison', { before, after, names });
  showComparisonPage(shop, uri, `${beforeName} → ${afterName}`, page);
  return uri;
}

/** The same as Markdown, rendered. */
export async function showComparison(uri: vscode.Uri | undefined): Promise<void> {
  const from = uri ?? shownComparison();
  if (from) await vscode.commands.executeCommand('markdown.showPreview', from);
}

/** Markdown for a commit or a pull request. */
export async function copyComparison(uri: vscode.Uri | undefined): Promise<void> {
  const from = uri ?? shownComparison();
  const text = from && textAt(from);
  if (text === undefined) return;
  await vscode.env.clipboard.writeText(text);
  vscode.window.setStatusBarMessage(vscode.l10n.t('Comparison copied as Markdown'), 4000);
}

/** The comparison published last: a preview of Markdown does not tell what it shows. */
let last: vscode.Uri | undefined;

function shownComparison(): vscode.Uri | undefined {
  const open = vscode.window.activeTextEditor?.document.uri;
  return open?.scheme === scheme ? open : (comparisonOnTop() ?? last);
}
