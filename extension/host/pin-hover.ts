/** Hover in the pattern: what a pin did in each take, newest first. */
import { defaultToleranceMs } from '../../analysis/machine/tolerance.ts';
import * as vscode from 'vscode';
import { channelsOf, withInterval, figures, judge, judgementWords } from '../../analysis/report/reading.ts';
import { markdownText } from '../../analysis/report/markdown-text.ts';
import { ofTune } from '../../analysis/machine/tune.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import { machineAt, takesSoon, tuneOfPattern } from './machine-files.ts';
import { earlierReport } from './report-files.ts';
import { machineAbove } from './targets.ts';

export async function pinHover(
  document: vscode.TextDocument,
  at: vscode.Position,
): Promise<vscode.Hover | null> {
  const root = await machineAbove(vscode.Uri.joinPath(document.uri, '..'));
  const machine = root && (await machineAt(root).catch(() => null));
  if (!root || !machine) return null;
  const { channels } = machine.description;
  const own = tuneOfPattern(machine, root, document.uri);
  if (own === null) return null;
  const { tune } = own;
  const pin = ofTune(machine, tune).pins.find(({ line }) => line === at.line + 1);
  if (!pin) return null;
  const channel = channels[pin.channel];
  const most = vscode.workspace.getConfiguration('shimwright', document).get<number>('takesInHover', 8);
  const takes = (await takesSoon(root, machine))
    .filter(({ report, unread }) => report !== null || unread)
    .reverse();
  const title = `**${markdownText(channel.name ?? channel.id)}**, ${vscode.l10n.t('step {0}', pin.step)}`;
  const newest = takes.slice(0, most).map(async ({ name, recorded, folder }) => {
    const report = await earlierReport(folder);
    return report === null || report.tune !== tune ? [] : [row(name, recorded, report, channel.id, pin.step)];
  });
  const rows = (await Promise.all(newest)).flat();
  const table =
    rows.length === 0
      ? [vscode.l10n.t('No take has been analysed yet.')]
      : [
          `| ${vscode.l10n.t('take')} | ${vscode.l10n.t('recorded')} | ${vscode.l10n.t('lateness, ms')} | | ${vscode.l10n.t('strokes')} | ${vscode.l10n.t('repeatability, ms')} |`,
          '| --- | --- | ---: | --- | ---: | ---: |',
          ...rows,
        ];
  const more = takes.length > most ? ['', vscode.l10n.t('and {0} older takes', takes.length - most)] : [];
  // Names come from strangers' files: no commands, no HTML.
  const text = new vscode.MarkdownString([title, '', ...table, ...more].join('\n'));
  return new vscode.Hover(text, document.lineAt(at.line).range);
}

function row(
  take: string,
  recorded: string | null,
  report: EarlierReport,
  channel: string,
  step: number,
): string {
  const pin = report.pins.find((each) => each.channel === channel && each.step === step);
  const misplaced = report.findings.find(
    (each) => each.kind === 'misplaced-pin' && each.channel === channel && each.step === step,
  );
  const toleranceMs = channelsOf(report).find(({ id }) => id === channel)?.toleranceMs ?? defaultToleranceMs;
  const word = misplaced
    ? vscode.l10n.t('heard at step {0}', misplaced.foundStep ?? '?')
    : judgementWords[judge(pin?.meanMs ?? null, pin?.ci95Ms ?? null, toleranceMs)];
  const cells = [
    markdownText(take),
    markdownText(recorded?.slice(0, 10) ?? '–'),
    withInterval(pin?.meanMs ?? null, pin?.ci95Ms ?? null),
    word,
    String(pin?.count ?? 0),
    figures(pin?.repeatabilityMs ?? null),
  ];
  return `| ${cells.join(' | ')} |`;
}
