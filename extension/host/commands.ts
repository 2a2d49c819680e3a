/** Commands by name. Those that write or run anything ask for trust first, whatever the menus say. */
import * as vscode from 'vscode';
import type { Finding } from '../../analysis/results/results.ts';
import { guarded, openAt, trusted } from './faults.ts';
import type { CommandName } from './command-names.ts';
import type { KnownSolos } from './solos.ts';
import type { Clicked } from './targets.ts';
import type { Workshop } from './workshop.ts';

export type Commands = Readonly<Record<CommandName, (...args: never[]) => unknown>>;

export function commandsOf(shop: Workshop): Commands {
  const reading =
    <A extends unknown[], T>(run: (...args: A) => Promise<T>) =>
    (...args: A) =>
      guarded(shop, aroundOf(args[0]), () => run(...args));
  const writing = <A extends unknown[], T>(run: (...args: A) => Promise<T>) =>
    reading(async (...args: A) => ((await trusted()) ? run(...args) : undefined));
  const settings = () => import('./settings.ts');
  return {
    analyseTake: writing(async (clicked: Clicked) =>
      (await import('./analyse.ts')).analyseTake(shop, clicked),
    ),
    analyseStaleTakes: writing(async (clicked: Clicked) =>
      (await import('./analyse.ts')).analyseStaleTakes(shop, clicked),
    ),
    createMachine: writing(async (into?: vscode.Uri, answers?: never) =>
      (await import('./create-machine.ts')).createMachine(shop, into, answers),
    ),
    createDemoMachine: writing(async (into?: vscode.Uri) =>
      (await import('./create-machine.ts')).createDemoMachine(shop, into),
    ),
    createTake: writing(async (clicked: Clicked, files?: never, name?: string) =>
      (await import('./create-take.ts')).createTake(
        shop,
        clicked,
        Array.isArray(files) ? files : undefined,
        name,
      ),
    ),
    listenToRecording: writing(async (clicked: Clicked, file?: unknown, name?: unknown) =>
      (await import('./listen.ts')).listenToRecording(
        shop,
        clicked,
        file instanceof vscode.Uri ? file : undefined,
        typeof name === 'string' ? name : undefined,
      ),
    ),
    openReport: reading(async (clicked: Clicked) =>
      (await import('./open-report.ts')).openReport(shop, clicked),
    ),
    reviewSettings: writing(async (clicked: Clicked) => (await settings()).reviewSettings(shop, clicked)),
    acceptAllSettings: writing(async (clicked: Clicked, done?: unknown) =>
      (await settings()).acceptAllSettings(shop, clicked, done === true),
    ),
    acceptSomeSettings: writing(async (clicked: Clicked, chosen?: unknown) =>
      (await settings()).acceptSomeSettings(
        shop,
        clicked,
        Array.isArray(chosen) ? chosen.map(String) : undefined,
      ),
    ),
    enterFittedSettings: writing(async (clicked: Clicked, fitted?: unknown, asProposed?: unknown) =>
      (await settings()).enterFittedSettings(
        shop,
        clicked,
        fittedIn(fitted),
        Array.isArray(asProposed) ? asProposed.map(String) : [],
      ),
    ),
    writeWorkSheet: writing(async (clicked: Clicked) =>
      (await import('./work-sheet.ts')).writeWorkSheet(shop, clicked),
    ),
    workAtMachine: writing(async (clicked: Clicked) =>
      (await import('./open-report.ts')).workAtMachine(shop, clicked),
    ),
    showBarrel: reading(async (clicked: Clicked) =>
      (await import('./barrel-preview.ts')).showBarrel(shop, clicked),
    ),
    showNext: writing(async (clicked: Clicked) => (await import('./next-steps.ts')).showNext(shop, clicked)),
    showTempo: reading(async (clicked: Clicked, bpm?: unknown) =>
      (await import('./next-steps.ts')).showTempo(shop, clicked, typeof bpm === 'number' ? bpm : undefined),
    ),
    saveVoices: writing(async (clicked: Clicked) => (await import('./voices.ts')).saveVoices(shop, clicked)),
    learnSolos: writing(async (clicked: Clicked, known?: unknown) =>
      (await import('./solos.ts')).learnSolos(shop, clicked, known as KnownSolos | undefined),
    ),
    openStrokes: reading(async (clicked: Clicked) =>
      (await import('./strokes.ts')).openStrokes(shop, clicked),
    ),
    draftFromTake: writing(async (clicked: Clicked, bpm?: unknown) =>
      (await import('./draft.ts')).draftFromTake(shop, clicked, typeof bpm === 'number' ? bpm : undefined),
    ),
    commitCalibration: writing(async (clicked: Clicked) =>
      (await import('./commit.ts')).commitCalibration(shop, clicked),
    ),
    compareTakes: reading(async (clicked: Clicked, names?: unknown) =>
      (await import('./compare.ts')).compareTakes(shop, clicked, pairIn(names)),
    ),
    compareCommits: reading(async (clicked: Clicked, commits?: unknown) =>
      (await import('./compare.ts')).compareCommits(shop, clicked, pairIn(commits)),
    ),
    copyComparison: reading(async (uri?: vscode.Uri) => (await import('./compare.ts')).copyComparison(uri)),
    showComparison: reading(async (uri?: vscode.Uri) => (await import('./compare.ts')).showComparison(uri)),
    notePin: writing(async (root: vscode.Uri, finding: Finding) =>
      (await import('./quick-fixes.ts')).notePin(root, finding),
    ),
    showFinding: reading(async (root: vscode.Uri, take: vscode.Uri, finding: Finding) => {
      const place = await (await import('./diagnostics.ts')).placeOfFinding(root, take, finding);
      if (place) await openAt(...place);
      else await vscode.commands.executeCommand('shimwright.openReport', take);
    }),
    refreshTakes: () => shop.changed(),
    showLog: () => shop.log.show(),
    openGuide: reading(async (page?: unknown) =>
      (await import('./guide.ts')).openGuide(shop, typeof page === 'string' ? page : undefined),
    ),
  };
}

function aroundOf(clicked: unknown) {
  const [root] = vscode.workspace.workspaceFolders ?? [];
  if (typeof clicked !== 'object' || clicked === null || !('root' in clicked)) return { root: root?.uri };
  const { root: own, take } = clicked as { root: vscode.Uri; take?: { folder: vscode.Uri } };
  return { root: own, take: take?.folder };
}

/** Menus pass arguments of their own after the first; only what callers give on purpose is taken. */
function pairIn<T>(value: unknown): readonly [string, T] | undefined {
  const isPair = Array.isArray(value) && value.length === 2 && typeof value[0] === 'string';
  return isPair ? (value as unknown as readonly [string, T]) : undefined;
}

function fittedIn(value: unknown): Readonly<Record<string, number>> | undefined {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return undefined;
  const entries = Object.entries(value);
  return entries.every(([, setting]) => typeof setting === 'number') && entries.length > 0
    ? (value as Record<string, number>)
    : undefined;
}
