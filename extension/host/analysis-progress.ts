/** What the notification says while takes are analysed: of each what is being done with it, and how far all are together. */
import * as vscode from 'vscode';
import type { Stage } from '../../analysis/ports.ts';
import { doneOf } from '../common/stages.ts';
import type { TakePlace } from './targets.ts';
import { said } from './words.ts';

export function showIn(
  progress: vscode.Progress<{ message: string; increment: number }>,
  takes: readonly TakePlace[],
) {
  const done = takes.map(() => 0);
  const underWay = new Map<number, string>();
  let shown = 0;
  let ended = 0;
  const tell = (i: number, fraction: number, words: string | null) => {
    done[i] = Math.max(done[i], fraction);
    if (words === null) underWay.delete(i);
    else underWay.set(i, `${said(takes[i].name)}: ${words}`);
    const list = [...underWay].sort(([a], [b]) => a - b).map(([, text]) => text);
    const now = list.join(' · ');
    const message =
      takes.length === 1 ? now : vscode.l10n.t('{0} of {1} done · {2}', ended, takes.length, now);
    const all = (100 * done.reduce((sum, each) => sum + each)) / takes.length;
    progress.report({ message, increment: all - shown });
    shown = all;
  };
  return {
    stage: (i: number) => (stage: Stage, fraction: number) =>
      tell(i, doneOf(stage, fraction), stageWord(stage)),
    waiting: (i: number) => tell(i, 0, vscode.l10n.t('waiting for the takes before it')),
    ended: (i: number) => {
      ended++;
      tell(i, 1, null);
    },
  };
}

function stageWord(stage: Stage): string {
  switch (stage) {
    case 'reading':
      return vscode.l10n.t('reading files');
    case 'hearing':
      return vscode.l10n.t('hearing strikes');
    case 'laying':
      return vscode.l10n.t('laying strokes on the barrel');
    case 'checking':
      return vscode.l10n.t('checking');
    case 'advising':
      return vscode.l10n.t('working out settings');
    case 'reporting':
      return vscode.l10n.t('writing the report');
  }
}
