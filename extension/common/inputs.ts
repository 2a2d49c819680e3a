/**
 * What a report is made from, as digests (`inputs` of report.json): of a take's files, of the deciding parts of
 * machine.jsonc, of the pins and of each saved voice. Hosts say how SHA-256 is worked out of bytes.
 */
import { correctionsFile } from '../../analysis/hits/corrections.ts';
import { savedVoiceText, voicesFolder, type SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { SourceFile } from '../../analysis/ports.ts';
import {
  decidingText,
  pinsText,
  tunesPinsTexts,
  type InputKind,
  type Present,
} from '../../analysis/report/freshness.ts';
import type { Inputs } from '../../analysis/results/results.ts';
import { takeFileName } from '../../analysis/take/description.ts';
import { kindOf } from '../../analysis/take/kinds.ts';

/** SHA-256 (FIPS 180-4) of bytes that come in pieces, as 64 hexadecimal digits. */
export type Sha256 = (pieces: AsyncIterable<Uint8Array<ArrayBuffer>>) => Promise<string>;

/** So much of a large file is in memory at once. */
const pieceBytes = 4 * 1024 * 1024;

/** git takes a file for text where its first 8000 bytes hold no NUL (its manual, "gitattributes", and buffer_is_binary). */
const textHeadBytes = 8000;

/** Larger files are no texts that people write, and are streamed. */
const largestTextBytes = 64 * 1024 * 1024;

export interface InputFile {
  readonly source: SourceFile;
  readonly kind: InputKind;
}

/** The files of a take that an analysis rests on, by name. */
export async function inputFiles(files: readonly SourceFile[]): Promise<InputFile[]> {
  const inputs: InputFile[] = [];
  for (const source of files) {
    const kind = await kindOf(source);
    if (kind === 'audio' || kind === 'markers') inputs.push({ source, kind });
    else if (kind === 'unknown' || source.name === takeFileName || source.name === correctionsFile)
      inputs.push({ source, kind: 'other' });
  }
  return inputs.sort((a, b) => (a.source.name < b.source.name ? -1 : 1));
}

/** A file's digest; a text's with line feeds alone, since git may turn line ends on their way, and without a byte order mark. */
export async function digestOf({ source, kind }: InputFile, sha256: Sha256): Promise<string> {
  const isText =
    kind !== 'audio' &&
    source.sizeBytes <= largestTextBytes &&
    !(await source.read(0, textHeadBytes)).includes(0);
  return sha256(isText ? one(withLineFeeds(await source.read())) : piecesOf(source));
}

/** The digest of a short text of our own making. */
export const digestOfText = (text: string, sha256: Sha256): Promise<string> =>
  sha256(one(new TextEncoder().encode(text)));

/** Digests of what all takes of a machine rest on. */
export async function machineDigests(
  machine: Machine,
  voices: readonly SavedVoice[],
  sha256: Sha256,
): Promise<Present['digests']> {
  const ofVoices: { file: string; sha256: string }[] = [];
  for (const voice of voices) {
    const file = `${voicesFolder}/${voice.channel}.json`;
    ofVoices.push({ file, sha256: await digestOfText(savedVoiceText(voice), sha256) });
  }
  return {
    machine: await digestOfText(decidingText(machine), sha256),
    pattern: await digestOfText(pinsText(machine), sha256),
    ofTunes: await Promise.all(tunesPinsTexts(machine).map((text) => digestOfText(text, sha256))),
    voices: ofVoices,
  };
}

/** @param digest of one file; where a host keeps digests, it looks there first */
export async function inputsOf(
  files: readonly InputFile[],
  { machine, pattern, voices }: Present['digests'],
  digest: (file: InputFile) => Promise<string>,
): Promise<Inputs> {
  const rows: Inputs['files'] = [];
  for (const file of files) {
    const { source, kind } = file;
    rows.push({ file: source.name, sizeBytes: source.sizeBytes, sha256: await digest(file), kind });
  }
  return { files: rows, machine, pattern, voices: [...voices] };
}

/** The same with take.jsonc as the analysis leaves it, its own questions in it: they are no change of the person's. */
export async function withStub(inputs: Inputs, takeText: string, sha256: Sha256): Promise<Inputs> {
  const row: Inputs['files'][number] = {
    file: takeFileName,
    sizeBytes: new TextEncoder().encode(takeText).length,
    sha256: await digestOfText(takeText.replaceAll('\r\n', '\n'), sha256),
    kind: 'other',
  };
  const others = inputs.files.filter(({ file }) => file !== takeFileName);
  const files = [...others, row].sort((a, b) => (a.file < b.file ? -1 : 1));
  return { ...inputs, files };
}

/** Web Crypto takes bytes in one piece: for files that are in memory already. */
export const webSha256: Sha256 = async (pieces) => {
  const parts: Uint8Array<ArrayBuffer>[] = [];
  for await (const piece of pieces) parts.push(piece);
  const whole = parts.length === 1 ? parts[0] : new Uint8Array(await new Blob(parts).arrayBuffer());
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', whole));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('');
};

async function* piecesOf(source: SourceFile): AsyncGenerator<Uint8Array<ArrayBuffer>> {
  for (let from = 0; from < source.sizeBytes; from += pieceBytes)
    yield owned(await source.read(from, Math.min(from + pieceBytes, source.sizeBytes)));
}

// eslint-disable-next-line @typescript-eslint/require-await -- an AsyncIterable of one piece
async function* one(bytes: Uint8Array): AsyncGenerator<Uint8Array<ArrayBuffer>> {
  yield owned(bytes);
}

/** Bytes of shared memory are none that can be digested. */
const owned = (bytes: Uint8Array): Uint8Array<ArrayBuffer> =>
  bytes.buffer instanceof ArrayBuffer ? (bytes as Uint8Array<ArrayBuffer>) : new Uint8Array(bytes);

function withLineFeeds(bytes: Uint8Array): Uint8Array {
  const [lf, cr] = [10, 13];
  const start = bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf ? 3 : 0;
  return bytes.filter((byte, i) => i >= start && (byte !== cr || bytes[i + 1] !== lf));
}
