/** The page's wishes (report-services.ts) granted by VS Code. */
import * as vscode from 'vscode';
import { InputProblem } from '../../analysis/input/problem.ts';
import { analyseOne } from './analyse.ts';
import { openAt, placeOf } from './faults.ts';
import { hearHere } from './hear.ts';
import { openingsOf } from '../../analysis/report/sheet/openings.ts';
import { recordWords } from '../../analysis/report/sheet/sheet.ts';
import { ofTune } from '../../analysis/machine/tune.ts';
import { freshnessWords } from '../../analysis/report/freshness.ts';
import { exists } from './machine-search.ts';
import { earlierReport } from './report-files.ts';
import { machineAt, earlierReports, takesOf } from './machine-files.ts';
import { readWithin, writeWithin } from './disk.ts';
import { adviceNow } from './proposal.ts';
import { wholeReport } from './report-files.ts';
import { savePicture } from './save-picture.ts';
import type { ReportServices } from './report-services.ts';
import type { TakePlace } from './targets.ts';
import { unnotedLines } from './unnoted.ts';
import { asAbort } from '../work/stopped.ts';
import type { ClipOrder } from '../work/jobs.ts';
import type { Workshop } from './workshop.ts';

/** Where files can only be read whole, ones larger than this are not read for a few hundredths of a second of sound. */
const largestWholeBytes = 300e6;

export function servicesFor(shop: Workshop, take: TakePlace): ReportServices {
  const { root, folder } = take;
  const corrections = vscode.Uri.joinPath(folder, 'corrections.csv');
  const takes = vscode.Uri.joinPath(root, 'takes');
  return {
    get mayChange() {
      return vscode.workspace.isTrusted;
    },
    patternInText: async () => {
      const machine = await machineAt(root).catch(() => null);
      return machine?.pins.some(({ line }) => line !== null) ?? false;
    },
    isThere: () => exists(folder),
    async readReport(address) {
      const other = vscode.Uri.parse(address);
      const isOfMachine = vscode.Uri.joinPath(other, '..').toString() === takes.toString();
      return isOfMachine ? wholeReport(other) : null;
    },
    async takesOfMachine() {
      const reports = await earlierReports(root);
      return reports.flatMap(({ name, report }) =>
        report === null ? [] : [{ take: vscode.Uri.joinPath(takes, name).toString(), report }],
      );
    },
    machineOf: () => machineAt(root),
    async standing() {
      const machine = await machineAt(root).catch(() => null);
      const analysed = (await takesOf(root, machine)).filter(({ report }) => report !== null);
      const newest = analysed.at(-1) ?? null;
      const own = analysed.find((each) => each.folder.toString() === folder.toString());
      const stands = own?.freshness && freshnessWords(own.freshness, vscode.l10n.t('analyse it again'));
      const unnoted =
        machine && own?.report && own === newest ? await unnotedLines(root, machine, own.report) : [];
      return {
        newest: newest === null || newest === own ? null : newest.name,
        told: [...(stands ? [stands] : []), ...unnoted].join('; ') || null,
      };
    },
    async adviceNow(_, signal) {
      const { machine, newest, advice } = await adviceNow(shop, root, signal);
      return {
        advice,
        openings: openingsOf(machine, newest, advice),
        record: recordWords(newest, advice, advice.settings.length > 0),
      };
    },
    async showNewest() {
      const newest = (await takesOf(root, null)).findLast(({ report }) => report !== null);
      if (newest) await vscode.commands.executeCommand('shimwright.openReport', newest.folder);
    },
    hear: (_, report, signal) => hearHere(shop, take, report, signal),
    savePicture: (_, png) => savePicture(take, png),
    clips: (address, wants) => clipsOf(shop, root, vscode.Uri.parse(address), wants),
    async readCorrections() {
      const bytes = await readWithin(root, corrections);
      return bytes === null ? null : textOf(bytes);
    },
    async changeCorrections(_, change) {
      const before = await readWithin(root, corrections);
      const text = change(before === null ? null : textOf(before));
      await writeWithin(root, [{ file: corrections, bytes: new TextEncoder().encode(text), before }]);
    },
    async analyse(_, progress, signal) {
      try {
        await analyseOne(shop, take, { progress, signal });
      } catch (error) {
        throw asAbort(error);
      }
      shop.changed();
    },
    async showPin(_, channel, step) {
      const { tune } = (await earlierReport(folder)) ?? {};
      const { description, pins } = ofTune(await machineAt(root), tune);
      const pin = pins.find(
        (each) => each.step === step && description.channels[each.channel].id === channel,
      );
      if (pin === undefined || pin.line === null)
        throw new InputProblem(
          description.pattern,
          '',
          `the pattern has no row for ${channel} at step ${step} any more`,
          'analyse the take again',
        );
      await openAt(vscode.Uri.joinPath(root, description.pattern), placeOf(`line ${pin.line}`));
    },
    showFinding: async (_, finding) => {
      await vscode.commands.executeCommand('shimwright.showFinding', root, folder, finding);
    },
    openStrokes: async () => {
      await vscode.commands.executeCommand('shimwright.openStrokes', folder);
    },
    review: async () => {
      await vscode.commands.executeCommand('shimwright.reviewSettings', root);
    },
    async accept(_, asProposed, others) {
      const done = await vscode.commands.executeCommand(
        'shimwright.enterFittedSettings',
        root,
        { ...asProposed, ...others },
        Object.keys(asProposed),
      );
      return done === true ? recorded : null;
    },
    async fitted() {
      const done = await vscode.commands.executeCommand('shimwright.enterFittedSettings', root);
      return done === true ? recorded : null;
    },
  };
}

const recorded = vscode.l10n.t(
  'Recorded in machine.jsonc and CALIBRATION.md. Record a take again to see what it did.',
);

/** Where the worker reaches no disk, the files that are asked for are read whole and handed over. */
async function clipsOf(
  { thread, platform }: Workshop,
  root: vscode.Uri,
  folder: vscode.Uri,
  wants: readonly ClipOrder[],
) {
  if (platform.reaches(folder))
    return thread.call('clipsOfFolder', { root: root.fsPath, take: folder.fsPath, wants });
  const files = [];
  for (const name of new Set(wants.map(({ file }) => file))) {
    if (/[/\\]/.test(name)) continue; // a report from elsewhere must not lead out of the take's folder
    const uri = vscode.Uri.joinPath(folder, name);
    const stat = await vscode.workspace.fs.stat(uri).then(undefined, () => null);
    if (stat === null) continue;
    if (stat.size > largestWholeBytes)
      throw new InputProblem(
        name,
        '',
        'is too large to be read for its sound here',
        'open the folder on a desktop',
      );
    const bytes = await readWithin(root, uri);
    if (bytes !== null) files.push({ name, bytes });
  }
  return thread.call('clipsOfFiles', { files, wants });
}

function textOf(bytes: Uint8Array): string {
  return new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes);
}
