/**
 * A machine's folder as every host reads it: the machine with its pattern, its takes in order with their reports, and the
 * voices saved with it. A host says how one file and one folder are reached.
 */
import { readSavedVoice, voicesFolder, type SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import { looseValue } from '../../analysis/input/jsonc.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import { parseEarlier } from '../../analysis/report/parse-part.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import { takeFileName } from '../../analysis/take/description.ts';
import { byName, byRecorded, recordedIn } from '../../analysis/take/order.ts';
import { inTurn } from './in-turn.ts';
import { asText } from './utf8.ts';

export const machineFile = 'machine.jsonc';
export const takesFolder = 'takes';

/** How a host reaches what lies in a machine's folder. Names are seen from that folder, with "/" between. */
export interface FolderReader {
  /**
   * null where there is no such file.
   *
   * @throws InputProblem where it must not or cannot be read, as where it lies outside the folder
   */
  read(name: string): Promise<Uint8Array | null>;
  /**
   * In any order; nothing where there is no such folder.
   *
   * @throws InputProblem as `read`
   */
  list(name: string): Promise<readonly { readonly name: string; readonly isFolder: boolean }[]>;
  /** As the person knows it, for messages. */
  shown(name: string): string;
}

/** A take with what its last analysis left. */
export interface TakeOnRecord {
  readonly name: string;
  readonly report: EarlierReport | null;
  /** ISO 8601: as take.jsonc says, else as report.json has it from the first analysis; null where neither says. */
  readonly recorded: string | null;
  /** Why its take.jsonc or report.json cannot be used; then there is no report. */
  readonly fault: InputProblem | null;
}

/**
 * @param text machine.jsonc's contents, saved or not
 * @param given the contents of a pattern that is not to be read from its file; undefined for the others
 * @throws InputProblem where machine.jsonc or a pattern cannot be used
 */
export function machineFrom(
  folder: FolderReader,
  text: string,
  given: (pattern: string) => Uint8Array | undefined = () => undefined,
): Promise<Machine> {
  return readMachine(folder.shown(machineFile), text, async (pattern) => {
    const bytes = given(pattern) ?? (await folder.read(pattern));
    if (bytes !== null) return bytes;
    throw Object.assign(new Error(pattern), { code: 'ENOENT' }); // readMachine says best what a missing pattern means
  });
}

/** The folders in takes/, by name. @throws InputProblem where takes/ or a link in it cannot be used */
export async function takeNames(folder: FolderReader): Promise<string[]> {
  const found = await folder.list(takesFolder);
  const names = found.filter(({ name, isFolder }) => isFolder && !name.startsWith('.'));
  return names.map(({ name }) => name).sort(byName);
}

/**
 * The takes in takes/, oldest first: by when they were recorded, then by name. One of which nobody knows when it was
 * recorded comes before those of which it is known.
 *
 * A take that cannot be read comes with its fault: one broken file must not cost the person the others.
 *
 * @throws InputProblem where takes/ or a link in it cannot be used
 */
export async function takesOnRecord(folder: FolderReader): Promise<TakeOnRecord[]> {
  const names = await takeNames(folder);
  const takes = await Promise.all(names.map((name) => inTurn(() => takeOnRecord(folder, name))));
  return takes.sort(byRecorded);
}

async function takeOnRecord(folder: FolderReader, name: string): Promise<TakeOnRecord> {
  try {
    const recorded = await recordedOf(folder, name);
    const report = await reportOf(folder, name, parseEarlier);
    return { name, report, recorded: recorded ?? report?.recorded ?? null, fault: null };
  } catch (error) {
    if (!(error instanceof InputProblem)) throw error;
    const recorded = await recordedOf(folder, name).catch(() => null);
    return { name, report: null, recorded, fault: error };
  }
}

/**
 * What take.jsonc says of when a take was recorded, ISO 8601: only that, for the order; the rest of it is read and
 * checked when the take is analysed.
 *
 * @throws InputProblem where the file cannot be read
 */
export async function recordedOf(folder: FolderReader, take: string): Promise<string | null> {
  const file = `${takesFolder}/${take}/${takeFileName}`;
  const bytes = await folder.read(file);
  return bytes === null ? null : recordedIn(looseValue(asText(bytes, folder.shown(file))));
}

/**
 * @param parse what of the report is wanted: parseReport, parseEarlier or parseHead
 * @returns null where the take has not been analysed
 * @throws InputProblem where the file is not a report
 */
export async function reportOf<R>(
  folder: FolderReader,
  take: string,
  parse: (file: string, text: string) => R,
): Promise<R | null> {
  const name = `${takesFolder}/${take}/report.json`;
  const bytes = await folder.read(name);
  return bytes && parsedReport(folder.shown(name), bytes, parse);
}

/** @throws InputProblem where the bytes are no report */
export function parsedReport<R>(
  file: string,
  bytes: Uint8Array,
  parse: (file: string, text: string) => R,
): R {
  try {
    return parse(file, asText(bytes, file));
  } catch (error) {
    if (!(error instanceof InputProblem)) throw error;
    // Without it the settings of that day are lost; only the person can say that they do not matter.
    throw new InputProblem(
      file,
      error.place,
      error.what,
      'restore it from git, or delete it and analyse again: it keeps the settings of the day',
    );
  }
}

/** Names of the files of saved voices, sorted; none where no voice is saved. */
export async function voiceNames(folder: FolderReader): Promise<string[]> {
  const found = await folder.list(voicesFolder);
  const names = found.filter(({ name }) => name.endsWith('.json') && !name.startsWith('.'));
  return names.map(({ name }) => `${voicesFolder}/${name}`).sort();
}

/** Voices saved with the machine, by channel's name. @throws InputProblem where a file is no saved voice */
export async function savedVoices(folder: FolderReader): Promise<SavedVoice[]> {
  const voices: SavedVoice[] = [];
  for (const name of await voiceNames(folder)) {
    const bytes = await folder.read(name);
    const file = folder.shown(name);
    if (bytes !== null) voices.push(readSavedVoice(file, asText(bytes, file)));
  }
  return voices;
}
