/** How a take stands, in a word, a sentence and a picture: the view, the pickers and the status say the same. */
import * as vscode from 'vscode';
import { freshnessWords } from '../../analysis/report/freshness.ts';
import { verdictOf } from '../../analysis/report/reading.ts';
import type { TakeEntry } from './machine-files.ts';

export interface Standing {
  readonly kind:
    | 'in-tolerance'
    | 'out-of-tolerance'
    | 'unsure'
    | 'not-measured'
    | 'not-analysed'
    | 'unread'
    | 'stale'
    | 'fault';
  readonly word: string;
  /** One sentence. */
  readonly sentence: string;
  readonly icon: vscode.ThemeIcon;
}

export function standingOf({ report, unread, fault, freshness }: TakeEntry): Standing {
  if (fault)
    return {
      kind: 'fault',
      word: vscode.l10n.t('unreadable report'),
      sentence: fault.message,
      icon: icon('error', 'error'),
    };
  if (unread)
    return {
      kind: 'unread',
      word: vscode.l10n.t('reading its report'),
      sentence: vscode.l10n.t('Its report is being read.'),
      icon: icon('ellipsis'),
    };
  if (!report)
    return {
      kind: 'not-analysed',
      word: vscode.l10n.t('not analysed'),
      sentence: vscode.l10n.t('This take has not been analysed.'),
      icon: icon('circle-large-outline'),
    };
  const verdict = verdictOf(report);
  const { state } = verdict;
  const told = freshness && freshnessWords(freshness, vscode.l10n.t('analyse it again'));
  const sentence = told
    ? vscode.l10n.t('{0} Of this report: {1}.', verdict.sentence, told)
    : verdict.sentence;
  if (freshness !== null && freshness.state !== 'current')
    return {
      kind: 'stale',
      word: freshness.state === 'stale' ? vscode.l10n.t('stale') : vscode.l10n.t('stale, no recording here'),
      sentence,
      icon: icon('history', 'warning'),
    };
  switch (state) {
    case 'in-tolerance':
      return { kind: state, word: vscode.l10n.t('in tolerance'), sentence, icon: icon('pass', 'passed') };
    case 'out-of-tolerance':
      return {
        kind: state,
        word: vscode.l10n.t('out of tolerance'),
        sentence,
        icon: icon('warning', 'warning'),
      };
    case 'unsure':
      return { kind: state, word: vscode.l10n.t('not decided'), sentence, icon: icon('question') };
    case 'not-measured':
      return {
        kind: state,
        word: vscode.l10n.t('nothing measured'),
        sentence,
        icon: icon('circle-slash', 'error'),
      };
  }
}

const colours = {
  error: 'list.errorForeground',
  warning: 'list.warningForeground',
  passed: 'testing.iconPassed',
};

function icon(name: string, colour?: keyof typeof colours): vscode.ThemeIcon {
  return new vscode.ThemeIcon(name, colour && new vscode.ThemeColor(colours[colour]));
}
