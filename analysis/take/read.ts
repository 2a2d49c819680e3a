/**
 * A take folder's files → one Take. Audio is opened in audio/, markers are read in markers/, take.jsonc in
 * description.ts; here they are put together. Every fault of a file is one InputProblem; what can be used in spite of
 * a fault is used, and a notice says so.
 */
import type { AudioFile } from './audio/audio-file.ts';
import type { Machine } from '../machine/machine.ts';
import type { Run, SourceFile } from '../ports.ts';
import { InputProblem } from '../input/problem.ts';
import { openAudio } from './audio/open.ts';
import { readDescription, takeFileName } from './description.ts';
import { kindOf } from './kinds.ts';
import { markerReaders } from './markers/index.ts';
import type { MarkerReader } from './markers/marker-reader.ts';
import { readMarkers } from './markers/read.ts';
import type { Take, Notice } from './take.ts';
import { tracksOf } from './tracks.ts';

/** What an earlier analysis froze into the take's report.json, so that a take keeps its meaning. */
export interface Frozen {
  /** ISO 8601; take.jsonc's own `recorded` wins. */
  readonly recordedBefore?: string | null;
  /** Adjuster → setting; take.jsonc's own `settings` win one by one. */
  readonly settingsBefore?: Readonly<Record<string, number>> | null;
  /** The tune whose pins its report from before there were several has; take.jsonc's own `tune` wins. */
  readonly tuneBefore?: string | null;
}

export interface ReadOptions extends Run {
  /** Marker readers that others registered; they are asked after the built-in ones. */
  readonly extraReaders?: readonly MarkerReader[];
}

/**
 * @param name  the take folder's name
 * @param files what lies in the folder; what the tool itself writes there is passed over
 * @throws InputProblem where a file cannot be used, or none holds audio or markers; the signal's reason when stopped
 */
export async function readTake(
  name: string,
  files: readonly SourceFile[],
  machine: Machine,
  { recordedBefore = null, settingsBefore = null, tuneBefore = null }: Frozen,
  { extraReaders = [], ...run }: ReadOptions,
): Promise<Take> {
  const readers = [...markerReaders, ...extraReaders];
  const ordered = [...files].sort((a, b) => (a.name < b.name ? -1 : 1)); // a folder's order is its file system's
  const checked = await readDescription(ordered, machine, tuneBefore);
  const said = checked?.value ?? {};
  const tune = said.tune ?? (machine.tunes === undefined ? undefined : tuneBefore);
  const description = typeof tune === 'string' ? { ...said, tune } : said;

  const audio: AudioFile[] = [];
  const markerFiles: SourceFile[] = [];
  const notices: Notice[] = [];
  for (const [i, file] of ordered.entries()) {
    run.signal?.throwIfAborted();
    const kind = await kindOf(file, readers);
    if (kind === 'audio') audio.push(await openAudio(file));
    if (kind === 'audio' || kind === 'markers') markerFiles.push(file);
    if (kind === 'unknown') notices.push(unused(file, 'it holds neither audio nor markers that can be read'));
    run.progress?.('reading', (i + 1) / ordered.length);
  }
  const found = await readMarkers(
    markerFiles,
    audio,
    { labels: description.labels ?? {}, machine },
    run,
    readers,
  );
  if (audio.length === 0 && found.markers.length === 0) throw nothingIn(name, files, found.files);

  const { tracks, leftOut } = tracksOf(audio, checked, machine);
  notices.push(...audio.flatMap((file) => file.notices), ...found.notices, ...leftOut);
  const installed = machine.description.adjusters.map(({ id, installed }): [string, number] => [
    id,
    description.settings?.[id] ?? settingsBefore?.[id] ?? installed,
  ]);
  return {
    name,
    description,
    recorded: description.recorded ?? recordedBefore,
    settings: Object.fromEntries(installed),
    tracks,
    markers: found.markers,
    ...(found.readings.length > 0 ? { markerFiles: found.readings } : {}),
    notices,
  };
}

function unused(file: SourceFile, why: string): Notice {
  return { kind: 'unused-file', file: file.name, place: '', message: `${file.name} is not used: ${why}` };
}

function nothingIn(name: string, files: readonly SourceFile[], markerFiles: number): InputProblem {
  const others = files.filter((file) => file.name !== takeFileName);
  const what = others.length === 0 ? 'the folder holds no files' : 'no file here holds audio or markers';
  const which = markerFiles === 0 ? what : 'there is no audio, and the marker files hold no markers';
  return new InputProblem(name, '', which, 'put the recording or its exported markers into this folder');
}
