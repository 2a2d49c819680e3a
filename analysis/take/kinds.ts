/** What a file of a take folder is, by its name and its first bytes. */
import { reportFileNames } from '../results/files.ts';
import type { SourceFile } from '../ports.ts';
import { audioName } from './audio/names.ts';
import { formatHeadBytes, formatOf } from './audio/format.ts';
import { takeFileName } from './description.ts';
import { markerReaders } from './markers/index.ts';
import type { MarkerReader } from './markers/marker-reader.ts';

export type FileKind = 'audio' | 'markers' | 'set-apart' | 'unknown';

/** What the tool writes, and what it reads by name elsewhere: never audio, never markers. */
const byName = new Set<string>([takeFileName, ...reportFileNames, 'corrections.csv']);

/** Notes and pictures that people keep beside a take; they need no remark. */
const harmless =
  /^(\.|readme|notes?\b|thumbs\.db$|desktop\.ini$)|~$|\.(md|markdown|pdf|html?|hbs|png|jpe?g|gif|webp|svg|heic|tiff?|bmp|bak|tmp)$/i;

/** Bytes that the marker readers are shown. */
const markerHeadBytes = 64;

export async function kindOf(
  file: SourceFile,
  readers: readonly MarkerReader[] = markerReaders,
): Promise<FileKind> {
  if (byName.has(file.name)) return 'set-apart';
  const head = await file.read(0, formatHeadBytes);
  // A recording under any name; one that is named so and is none is refused when it is opened.
  if (!/^\./.test(file.name) && (formatOf(head) !== null || audioName.test(file.name))) return 'audio';
  if (harmless.test(file.name)) return 'set-apart';
  const start = head.subarray(0, markerHeadBytes);
  return readers.some((reader) => reader.recognises(file.name, start)) ? 'markers' : 'unknown';
}
