/** Findings and faults in the Problems panel, each at its place. */
import * as vscode from 'vscode';
import { findNodeAtLocation, parseTree } from 'jsonc-parser';
import type { Study } from '../../analysis/checks/check.ts';
import { outOfRange } from '../../analysis/checks/settings.ts';
import { ofTune } from '../../analysis/machine/tune.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Finding } from '../../analysis/results/results.ts';
import { fileOf, placeOf, type Around } from './faults.ts';
import { earlierReport } from './report-files.ts';
import { machineOf, takesSoon, type TakeEntry } from './machine-files.ts';
import type { TakePlace } from './targets.ts';
import { shown } from './words.ts';
import type { Workshop } from './workshop.ts';

const source = 'Shimwright';

/** What reports and descriptions say, made anew at every change. */
const findings = vscode.languages.createDiagnosticCollection('shimwright.findings');
/** What stopped an analysis; stays until the take is analysed or its file changes. */
const faults = vscode.languages.createDiagnosticCollection('shimwright.faults');

/** A diagnostic that knows its finding, for the quick fixes. */
export class FindingDiagnostic extends vscode.Diagnostic {
  constructor(
    range: vscode.Range,
    readonly finding: Finding,
    readonly root: vscode.Uri,
    take: string | null,
  ) {
    const words = finding.mend ? `${finding.message}; ${finding.mend}` : finding.message;
    super(
      range,
      shown(take === null ? words : `${words} (${vscode.l10n.t('take {0}', take)})`),
      severities[finding.severity],
    );
    this.source = source;
    this.code = finding.kind;
  }
}

const severities = {
  note: vscode.DiagnosticSeverity.Information,
  warning: vscode.DiagnosticSeverity.Warning,
  error: vscode.DiagnosticSeverity.Error,
};

type Found = Map<string, [vscode.Uri, vscode.Diagnostic[]]>;

/** Fills the panel from all machines of the workspace. */
export async function showFindings(shop: Workshop): Promise<void> {
  const found: Found = new Map();
  for (const root of await shop.machines()) await findIn(root, found);
  findings.clear();
  findings.set([...found.values()]);
}

async function findIn(root: vscode.Uri, found: Found): Promise<void> {
  const add = (uri: vscode.Uri, diagnostic: vscode.Diagnostic) => {
    const [, list] = found.get(uri.toString()) ?? [uri, []];
    found.set(uri.toString(), [uri, [...list, diagnostic]]);
  };
  const file = vscode.Uri.joinPath(root, 'machine.jsonc');
  const text = (await vscode.workspace.openTextDocument(file)).getText();
  let machine: Machine | null = null;
  try {
    machine = await machineOf(root, text);
  } catch (error) {
    if (!(error instanceof InputProblem)) throw error;
    add((await fileOf(error, { root })) ?? file, faultAt(error));
  }
  const takes = await takesSoon(root, machine);
  if (machine) {
    for (const finding of settingsOutOfRange(machine))
      add(file, new FindingDiagnostic(rangeOfSetting(text, machine, finding), finding, root, null));
    addMisplacedPins(root, machine, takes, add);
  }
  for (const take of takes) await addInFiles(take, add);
}

type Add = (uri: vscode.Uri, diagnostic: vscode.Diagnostic) => void;

/** The built-in check, on the settings now installed instead of a take's. */
function settingsOutOfRange(machine: Machine): readonly Finding[] {
  const settings = Object.fromEntries(
    machine.description.adjusters.map(({ id, installed }) => [id, installed]),
  );
  return outOfRange.run({ machine, take: { settings } } as unknown as Study);
}

function rangeOfSetting(text: string, { description }: Machine, { adjuster }: Finding): vscode.Range {
  const index = description.adjusters.findIndex(({ id }) => id === adjuster);
  const root = parseTree(text);
  const node = root && findNodeAtLocation(root, ['adjusters', index, 'installed']);
  return node ? rangeIn(text, node.offset, node.length) : new vscode.Range(0, 0, 0, 0);
}

function rangeIn(text: string, offset: number, length: number): vscode.Range {
  const position = (at: number) => {
    const lines = text.slice(0, at).split(/\r\n|\r|\n/);
    return new vscode.Position(lines.length - 1, lines[lines.length - 1].length);
  };
  return new vscode.Range(position(offset), position(offset + length));
}

/** From the newest report alone: what an older one found may have been mended since. */
function addMisplacedPins(root: vscode.Uri, given: Machine, takes: readonly TakeEntry[], add: Add): void {
  for (const { name } of given.tunes ?? [{ name: undefined }])
    addMisplacedPinsOf(root, ofTune(given, name), takes, add);
}

function addMisplacedPinsOf(root: vscode.Uri, machine: Machine, takes: readonly TakeEntry[], add: Add): void {
  const newest = takes.findLast(({ report }) => report !== null && report.tune === machine.tune);
  const pattern = vscode.Uri.joinPath(root, machine.description.pattern);
  const { channels } = machine.description;
  for (const finding of newest?.report?.findings ?? []) {
    if (finding.kind !== 'misplaced-pin') continue;
    const pin = machine.pins.find(
      ({ step, channel }) => step === finding.step && channels[channel].id === finding.channel,
    );
    if (!pin || pin.line === null) continue; // the pattern has been corrected, or is a MIDI file
    add(pattern, new FindingDiagnostic(placeOf(`line ${pin.line}`), finding, root, newest!.name));
  }
}

/** Findings that name a file of the take: in that file, where it is text, and at its place. */
async function addInFiles({ root, folder, name, report }: TakeEntry, add: Add): Promise<void> {
  for (const finding of report?.findings ?? []) {
    if (finding.file === undefined || finding.kind === 'misplaced-pin') continue;
    const problem = new InputProblem(finding.file, finding.place ?? '', '', '');
    const file = await fileOf(problem, { take: folder, root });
    if (file) add(file, new FindingDiagnostic(placeOf(finding.place ?? ''), finding, root, name));
  }
}

function faultAt({ place, what, mend }: InputProblem): vscode.Diagnostic {
  const diagnostic = new vscode.Diagnostic(
    placeOf(place),
    shown(`${what}; ${mend}`),
    vscode.DiagnosticSeverity.Error,
  );
  diagnostic.source = source;
  return diagnostic;
}

/** Puts what stopped an analysis at its place. */
export async function showFault(error: unknown, around: Around): Promise<void> {
  if (!(error instanceof InputProblem)) return;
  const file = await fileOf(error, around);
  if (file) faults.set(file, [faultAt(error)]);
}

/** An analysis went through: nothing stopped it. */
export function clearFaults({ root, folder }: TakePlace): void {
  faults.forEach((file) => {
    // Joined, since a machine may lie at the root of its file system.
    const below = (up: vscode.Uri, name: string) => file.path.startsWith(vscode.Uri.joinPath(up, name).path);
    if (below(folder, '/') || (below(root, '/') && !below(root, 'takes/'))) faults.delete(file);
  });
}

/** Where a finding's place is, for the view: its file, its pin's row, its setting, or the report. */
export async function placeOfFinding(
  root: vscode.Uri,
  take: vscode.Uri,
  finding: Finding,
): Promise<readonly [vscode.Uri, vscode.Range] | null> {
  if (finding.file !== undefined) {
    const file = await fileOf(new InputProblem(finding.file, '', '', ''), { take, root });
    if (file) return [file, placeOf(finding.place ?? '')];
  }
  const file = vscode.Uri.joinPath(root, 'machine.jsonc');
  const text = (await vscode.workspace.openTextDocument(file)).getText();
  const whole = await machineOf(root, text);
  const machine = ofTune(whole, (await earlierReport(take))?.tune);
  if (finding.adjuster !== undefined) return [file, rangeOfSetting(text, machine, finding)];
  const { channels, pattern } = machine.description;
  const pin = machine.pins.find(
    ({ step, channel }) => step === finding.step && channels[channel].id === finding.channel,
  );
  return pin?.line ? [vscode.Uri.joinPath(root, pattern), placeOf(`line ${pin.line}`)] : null;
}
