/**
 * Whether a report still speaks of its take: the digests of what it was made from (`inputs` of report.json) against what
 * is there now. Contents decide, never times: a clone or a checkout changes all times and nothing else. The terminal
 * and the editor both ask here.
 */
import { finding } from '../results/catalogue.ts';
import type { Machine } from '../machine/machine.ts';
import { patternsOf } from '../machine/tune.ts';
import type { Finding, Inputs, ReportHead } from '../results/results.ts';
import { describesMachine, sameParts } from './same-machine.ts';

export type InputKind = Inputs['files'][number]['kind'];

/** A take's files and its machine as they are now; digests are asked for only where nothing cheaper tells. */
export interface Present {
  /** Without what the tool writes and what no analysis reads. */
  readonly files: readonly { readonly name: string; readonly sizeBytes: number; readonly kind: InputKind }[];
  /** SHA-256 of a file, as `inputs` has it. */
  digest(name: string): Promise<string>;
  readonly machine: Machine;
  /** SHA-256 of what in machine.jsonc decides an analysis (decidingText), of the pins (pinsText), of each saved voice. */
  readonly digests: Pick<Inputs, 'machine' | 'pattern' | 'voices'> & {
    /** Of the pins of each tune by itself: reports from when it was the only pattern have that. */
    readonly ofTunes?: readonly string[];
  };
  /** For a report from before digests were kept: the name of something newer than it, null where nothing is. */
  newer(): Promise<string | null>;
}

export type Freshness =
  /** Analysing the take again would find the same. `missing`: its audio, where that is not here. */
  | { readonly state: 'current'; readonly missing: readonly string[] }
  /** Something has changed since, but without its audio the take cannot be heard again: the report is all there is. */
  | { readonly state: 'kept'; readonly missing: readonly string[]; readonly changed: string }
  /** `replaced`: all its recordings are others than those that the report was made from. */
  | { readonly state: 'stale'; readonly changed: string; readonly replaced: boolean }
  /** The machine now has other channels or sectors, and the audio is not here: the report says nothing of this machine. */
  | { readonly state: 'foreign'; readonly missing: readonly string[]; readonly changed: string };

/** @throws what `present` throws where a file cannot be read */
export async function freshnessOf(report: ReportHead, present: Present): Promise<Freshness> {
  const missing = missingRecordings(report, present);
  const changed = await changedSince(report, present);
  if (changed === null) return { state: 'current', missing };
  const isNew = present.files.some(
    ({ name, kind }) => kind === 'audio' && !report.inputs?.files.some(({ file }) => file === name),
  );
  if (missing.length === 0 || isNew)
    return { state: 'stale', changed, replaced: await isReplaced(report, present) };
  return { state: sameParts(report, present.machine) ? 'kept' : 'foreign', missing, changed };
}

/** What the report was made from and cannot be heard without: its audio, or where there was none, its markers. */
function recordingsOf({ inputs, tracks }: ReportHead): readonly string[] {
  if (inputs === undefined) return [...new Set(tracks.map(({ file }) => file))];
  const of = (wanted: InputKind) => inputs.files.flatMap(({ file, kind }) => (kind === wanted ? [file] : []));
  const audio = of('audio');
  return audio.length > 0 ? audio : of('markers');
}

function missingRecordings(report: ReportHead, { files }: Present): string[] {
  const here = new Set(files.map(({ name }) => name));
  const recordings = recordingsOf(report);
  const missing = recordings.filter((name) => !here.has(name));
  const onlyMarkers = !(report.inputs?.files ?? []).some(({ kind }) => kind === 'audio');
  // One marker file of several that is taken away is a person's choice; all of them, a folder that was not copied whole.
  return report.inputs !== undefined && onlyMarkers && missing.length < recordings.length ? [] : missing;
}

/** The first thing that is not as the report had it, by the name a person knows; missing audio is no change. */
async function changedSince(report: ReportHead, present: Present): Promise<string | null> {
  const { files, machine, digests } = present;
  const { inputs } = report;
  const pattern = patternsOf(machine).join(', ');
  if (inputs === undefined) return describesMachine(report, machine) ? present.newer() : machineName(machine);
  if (inputs.machine !== digests.machine) return machineName(machine);
  const patterns = [digests.pattern, ...(report.tune === undefined ? (digests.ofTunes ?? []) : [])];
  if (!patterns.includes(inputs.pattern)) return pattern;
  const voice = differing(inputs.voices, digests.voices);
  if (voice !== null) return voice;
  const before = new Map(inputs.files.map((file) => [file.file, file]));
  const missing = new Set(missingRecordings(report, present));
  const here = new Set(files.map(({ name }) => name));
  const gone = inputs.files.find(({ file }) => !here.has(file) && !missing.has(file));
  if (gone !== undefined) return gone.file;
  for (const { name, sizeBytes, kind } of files) {
    const known = before.get(name);
    if (known === undefined) return name;
    // Of texts the size may change with their line ends, which git turns.
    if (kind === 'audio' && known.sizeBytes !== sizeBytes) return name;
    if ((await present.digest(name)) !== known.sha256) return name;
  }
  return null;
}

const machineName = ({ file }: Machine) => file.replace(/^.*[/\\]/, '');

function differing(before: Inputs['voices'], now: Inputs['voices']): string | null {
  const of = (voices: Inputs['voices']) => new Map(voices.map(({ file, sha256 }) => [file, sha256]));
  const [was, is] = [of(before), of(now)];
  return [...new Set([...was.keys(), ...is.keys()])].find((file) => was.get(file) !== is.get(file)) ?? null;
}

/** true where files of the recording's names are there and none holds what it held: another recording in this folder. */
export async function isReplaced(
  report: Pick<ReportHead, 'inputs' | 'tracks'>,
  { files, digest }: Pick<Present, 'files' | 'digest'>,
): Promise<boolean> {
  const { inputs } = report;
  if (inputs === undefined) return false;
  const kept = new Map(inputs.files.map(({ file, sha256 }) => [sha256, file]));
  const recordings = recordingsOf(report as ReportHead);
  const wanted = inputs.files.find(({ file }) => file === recordings[0])?.kind;
  const now = files.filter(({ kind }) => kind === wanted);
  for (const { name } of now) if (kept.has(await digest(name))) return false;
  return now.length > 0 && recordings.length > 0;
}

/** What of machine.jsonc decides how a take is measured. Adjusters do not: advice is worked out anew by all who show it. */
export function decidingText({ description }: Machine): string {
  const { barrel, reference, onset, channels, together, click, drive } = description;
  return JSON.stringify({ barrel, reference, onset, channels, together, click, drive });
}

/** The pins, whatever the layout of the file that they stand in; of several tunes all: which one a take is of is the take's. */
export function pinsText({ pins, tunes, description }: Machine): string {
  const rows = rowsOf(description);
  return JSON.stringify(
    tunes === undefined ? rows(pins) : tunes.map(({ name, pins: own }) => [name, rows(own)]),
  );
}

/** The same of each tune by itself, as where it is the only pattern. */
export function tunesPinsTexts({ tunes = [], description }: Machine): string[] {
  return tunes.map(({ pins }) => JSON.stringify(rowsOf(description)(pins)));
}

function rowsOf({ channels }: Machine['description']) {
  return (pins: Machine['pins']) =>
    pins.map(({ step, channel, targetMs }) => [
      step,
      channels[channel].id,
      ...(targetMs === undefined ? [] : [targetMs]),
    ]);
}

/** Said of a take whose recordings were replaced, when it is analysed anew. */
export function replacedFinding(earlier: Pick<ReportHead, 'settings'>, machine: Machine): Finding {
  const moved = machine.description.adjusters.flatMap(({ id, installed }) => {
    const was = earlier.settings[id] as number | undefined;
    return was === undefined || was === installed ? [] : [`${id} ${was} → ${installed}`];
  });
  const settings =
    moved.length === 0 ? '' : `, with what machine.jsonc has as installed now (${moved.join(', ')})`;
  return finding(
    'replaced-recording',
    `This folder holds another recording than when it was analysed last, and it is taken for a new one${settings}.`,
  );
}

/**
 * A sentence for the person, without the take's name; null where there is nothing to tell.
 *
 * @param analyse what analyses the take again, as the person would ask for it
 */
export function freshnessWords(freshness: Freshness, analyse: string): string | null {
  switch (freshness.state) {
    case 'current':
      return freshness.missing.length === 0
        ? null
        : `its recording (${some(freshness.missing)}) is not here; its report is used`;
    case 'kept':
      return `its recording (${some(freshness.missing)}) is not here, so its report is used though ${freshness.changed} has changed since; put the recording back and ${analyse} to measure it anew`;
    case 'stale':
      return freshness.replaced
        ? `it holds another recording than its report was made from; ${analyse}`
        : `${freshness.changed} has changed since its report was made; ${analyse}`;
    case 'foreign':
      return `its report is of other channels or sectors than machine.jsonc has now, and its recording (${some(freshness.missing)}) is not here; it is left out`;
  }
}

/** Of a take of forty files, a few names say enough. */
const mostNamed = 3;

function some(names: readonly string[]): string {
  const rest = names.length - mostNamed;
  return rest > 0 ? `${names.slice(0, mostNamed).join(', ')} and ${rest} more` : names.join(', ');
}
