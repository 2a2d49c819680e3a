/**
 * Markers: labelled instants and ranges that a recorder exported. Each format is one file here of the shape
 * MarkerReader; index.ts lists them. To add one, write its file and put it in the list. They are asked in its order: the first that
 * recognises a file and gives something else than null reads it.
 */
import type { SourceFile } from '../../ports.ts';
import { InputProblem } from '../../input/problem.ts';
import type { Notice } from '../take.ts';

/** A marker as its file has it, before its label is given a meaning. */
export interface RawMarker {
  /** Seconds from the start of the recording. */
  readonly timeS: number;
  /** null for an instant */
  readonly endS: number | null;
  /** Text as it stands, without the space around it; may be empty. */
  readonly label: string;
  /** "line 3", "cue 2" */
  readonly place: string;
}

/** What a reader may need to know of the audio that its markers belong to. */
export interface AudioFacts {
  /** Hz */
  readonly sampleRate: number;
  readonly lengthS: number;
}

export interface MarkerReader {
  /** What the format is called: report.md, the page and report.json say it of each marker file, and the guide lists it. */
  readonly what: string;
  /** Whether the file may be of this format, by its name and its first 64 bytes (or fewer). */
  recognises(name: string, head: Uint8Array): boolean;
  /**
   * @param audio the same file's audio, or the take's where markers stand in a file of their own; null without
   * @returns null where the file turns out not to hold this format's markers
   * @throws InputProblem where the file as a whole cannot be read
   */
  read(
    file: SourceFile,
    audio: AudioFacts | null,
  ): Promise<{ markers: RawMarker[]; notices: Notice[]; reading?: TableReading } | null>;
}

/** Which columns of a table were taken for what: shown, so that a wrong guess is seen. */
export interface TableReading {
  /** The header's words, or "column 3". */
  readonly time: string;
  readonly unit: 's' | 'ms' | 'samples';
  /** null where there is none. */
  readonly end: string | null;
  readonly label: string | null;
}

/** More than any take has hits: an hour at fifty a second. A longer list is not one that a person exported. */
export const maxMarkers = 200_000;

/** Labels name channels or hold a remark; a longer text is cut, since it stands in lists and on plots. */
export const maxLabelLength = 500;

/** Marker text of this length holds more than maxMarkers in any layout; it is read whole, so it must be bounded. */
const maxMarkerBytes = 32 * 2 ** 20;

/** @throws InputProblem where there are more markers than can be used */
export function refuseTooMany(file: string, count: number): void {
  if (count <= maxMarkers) return;
  const what = `there are ${count} markers in it, and ${maxMarkers} is the most that can be used`;
  throw new InputProblem(file, '', what, 'export the markers of one take only');
}

/** The whole file, which holds nothing but markers. @throws InputProblem where it is too long */
export async function wholeFile(file: SourceFile): Promise<Uint8Array> {
  if (file.sizeBytes > maxMarkerBytes) {
    throw new InputProblem(
      file.name,
      '',
      'the file is longer than 32 MiB',
      'export the markers of one take only',
    );
  }
  return file.read();
}

/** A marker that could not be read, in a file whose others can. */
export function unreadable(file: string, place: string, why: string): Notice {
  return {
    kind: 'unreadable-marker',
    file,
    place,
    message: `${file}: ${place}: the marker was left out: ${why}`,
  };
}

/** Bytes looked at to tell UTF-16 without its mark, and the share of zeros on one side that Latin letters leave. */
const judgedBytes = 512;
const mostlyZero = 0.6;

/** UTF-16 without a byte order mark: of Latin text every other byte is zero. null where it is not. */
export function unmarkedUtf16(bytes: Uint8Array): 'utf-16le' | 'utf-16be' | null {
  const head = bytes.subarray(0, judgedBytes - (judgedBytes % 2));
  const pairs = Math.floor(head.length / 2);
  if (pairs < 2) return null;
  let [even, odd] = [0, 0];
  for (let i = 0; i < 2 * pairs; i++)
    if (head[i] === 0) [even, odd] = i % 2 === 0 ? [even + 1, odd] : [even, odd + 1];
  if (odd > mostlyZero * pairs && even === 0) return 'utf-16le';
  return even > mostlyZero * pairs && odd === 0 ? 'utf-16be' : null;
}

/** Bytes as text: UTF-16 by its mark or its zeros, else UTF-8, else the Western European code page that older programs write. */
export function textOf(bytes: Uint8Array): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return new TextDecoder('utf-16le').decode(bytes);
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return new TextDecoder('utf-16be').decode(bytes);
  const unmarked = unmarkedUtf16(bytes);
  if (unmarked !== null) return new TextDecoder(unmarked).decode(bytes);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

/** A label's text within a binary file: up to its first NUL, without the space around it. */
export function labelOf(bytes: Uint8Array): string {
  const end = bytes.indexOf(0);
  return textOf(end === -1 ? bytes : bytes.subarray(0, end)).trim();
}
