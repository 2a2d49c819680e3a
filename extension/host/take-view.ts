/** The view in the Explorer: machines, their takes newest first, and each take's findings. */
import * as vscode from 'vscode';
import type { Finding } from '../../analysis/results/results.ts';
import type { TakeEntry } from './machine-files.ts';
import { shown } from './words.ts';
import type { Workshop } from './workshop.ts';

export type Node =
  | { readonly kind: 'machine'; readonly root: vscode.Uri }
  | { readonly kind: 'take'; readonly root: vscode.Uri; readonly take: TakeEntry }
  | {
      readonly kind: 'finding';
      readonly root: vscode.Uri;
      readonly take: TakeEntry;
      readonly finding: Finding;
    };

export class TakeView implements vscode.TreeDataProvider<Node> {
  private readonly change = new vscode.EventEmitter<void>();
  readonly onDidChangeTreeData = this.change.event;
  /** All that was shown last; null before the view was opened. */
  private shown: string | null = null;
  private looking: Promise<void> = Promise.resolve();

  constructor(private readonly shop: Workshop) {
    shop.onChange(() => {
      this.looking = this.looking.then(() => this.refresh()).catch(() => this.change.fire());
    });
  }

  /** Only where something to show has changed: the editor drops a click on a row that is made anew at that moment. */
  private async refresh(): Promise<void> {
    const now = this.shown === null ? null : await this.contents();
    if (now !== null && now === this.shown) return;
    this.shown = now;
    this.change.fire();
  }

  private async contents(): Promise<string> {
    const roots = await this.shop.machines();
    const takes = await Promise.all(roots.map((root) => takesUnder(root)));
    return JSON.stringify([roots.map(String), takes]);
  }

  async getChildren(node?: Node): Promise<Node[]> {
    switch (node?.kind) {
      case undefined: {
        this.shown ??= '';
        const roots = await this.shop.machines();
        return roots.length === 1
          ? takesUnder(roots[0])
          : roots.map((root): Node => ({ kind: 'machine', root }));
      }
      case 'machine':
        return takesUnder(node.root);
      case 'take': {
        const { root, take } = node;
        return (take.report?.findings ?? []).map((finding): Node => ({
          kind: 'finding',
          root,
          take,
          finding,
        }));
      }
      case 'finding':
        return [];
    }
  }

  async getTreeItem(node: Node): Promise<vscode.TreeItem> {
    switch (node.kind) {
      case 'machine':
        return machineItem(node.root);
      case 'take':
        return takeItem(node);
      case 'finding':
        return findingItem(node);
    }
  }
}

async function takesUnder(root: vscode.Uri): Promise<Node[]> {
  const { machineAt, takesSoon } = await import('./machine-files.ts');
  const machine = await machineAt(root).catch(() => null); // the Problems panel tells what is wrong with it
  const takes = await takesSoon(root, machine);
  return takes.reverse().map((take): Node => ({ kind: 'take', root, take }));
}

function machineItem(root: vscode.Uri): vscode.TreeItem {
  const item = new vscode.TreeItem(root, vscode.TreeItemCollapsibleState.Expanded);
  item.contextValue = 'machine';
  item.iconPath = new vscode.ThemeIcon('watch');
  return item;
}

async function takeItem(node: Extract<Node, { kind: 'take' }>): Promise<vscode.TreeItem> {
  const { standingOf } = await import('./standing.ts');
  const { name, recorded, report, unread, folder } = node.take;
  const { word, sentence, icon } = standingOf(node.take);
  const { None, Collapsed } = vscode.TreeItemCollapsibleState;
  const item = new vscode.TreeItem(shown(name), report && report.findings.length > 0 ? Collapsed : None);
  item.id = folder.toString();
  item.description = shown([word, recorded?.slice(0, 10)].filter(Boolean).join(' · '));
  item.tooltip = shown(sentence);
  item.iconPath = icon;
  item.contextValue = report || unread ? 'take.analysed' : 'take.new';
  item.accessibilityInformation = { label: `${shown(name)}, ${item.description}` };
  item.command =
    report || unread
      ? { command: 'shimwright.openReport', title: vscode.l10n.t('Open Report'), arguments: [node] }
      : undefined;
  return item;
}

const findingIcons = { note: 'info', warning: 'warning', error: 'error' };

function findingItem({ take, finding }: Extract<Node, { kind: 'finding' }>): vscode.TreeItem {
  const message = shown(finding.message);
  const item = new vscode.TreeItem(message);
  item.iconPath = new vscode.ThemeIcon(findingIcons[finding.severity]);
  item.tooltip = finding.mend
    ? `${message}\n${vscode.l10n.t('To mend it: {0}', shown(finding.mend))}`
    : message;
  item.contextValue = `finding.${finding.kind}`;
  item.accessibilityInformation = { label: `${finding.severity}: ${message}` };
  item.command = {
    command: 'shimwright.showFinding',
    title: vscode.l10n.t('Show Place'),
    arguments: [take.root, take.folder, finding],
  };
  return item;
}
