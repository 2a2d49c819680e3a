/**
 * Chunked files: an id of four letters, a size of four bytes, a body padded to an even length, and the next. Both
 * families read here are: RIFF (Multimedia Programming Interface and Data Specifications 1.0, 1991; RF64/BW64 after
 * ITU-R BS.2088-1 and EBU Tech 3306) and IFF (EA IFF 85).
 */
import type { SourceFile } from '../../ports.ts';

export interface Form {
  /** "RIFF", "RIFX", "RF64", "BW64", "riff" (Wave64) or "FORM" */
  readonly id: string;
  /** "WAVE", "AIFF", "AIFC" … */
  readonly type: string;
  readonly littleEndian: boolean;
  /** As the header has it, without its own 8 bytes; RF64's and BW64's from ds64. */
  readonly sizeBytes: number;
  readonly chunks: readonly Chunk[];
  /** Byte at which what should be a chunk is none, or is not there whole; null where all are. */
  readonly brokenAt: number | null;
}

export interface Chunk {
  readonly id: string;
  /** Byte of its body. */
  readonly at: number;
  /** As its header says; may run past the end of the file. */
  readonly sizeBytes: number;
}

/** More chunks than any recorder writes; a file made to have more would only hold us up. */
const maxChunks = 2000;

/** Stands for "see ds64" in RF64, and for "not yet known" where a recorder was stopped. */
export const unknownSize = 0xffffffff;

/** @returns null where the file does not begin like RIFF or IFF */
export async function readForm(file: SourceFile): Promise<Form | null> {
  const head = viewOf(await file.read(0, 12));
  if (head.byteLength < 12) return null;
  const id = letters(head, 0);
  if (id === 'riff') return readWave64(file);
  if (!['RIFF', 'RIFX', 'RF64', 'BW64', 'FORM'].includes(id)) return null;
  const littleEndian = id !== 'RIFX' && id !== 'FORM';
  const chunks: Chunk[] = [];
  let large: Large | null = null;
  let at = 12;
  let brokenAt: number | null = null;
  while (at + 8 <= file.sizeBytes && chunks.length < maxChunks) {
    const header = viewOf(await file.read(at, at + 8));
    if (header.byteLength < 8) break;
    const name = letters(header, 0);
    const proper = /^[\x20-\x7e]{4}$/.test(name);
    const said = header.getUint32(4, littleEndian);
    const sizeBytes: number = said === unknownSize ? (large?.sizes.get(name) ?? said) : said;
    if (brokenAt === null && !(proper && at + 8 + sizeBytes <= file.sizeBytes)) brokenAt = at;
    if (!proper) break;
    chunks.push({ id: name, at: at + 8, sizeBytes });
    if (name === 'ds64') large = readLarge(viewOf(await file.read(at + 8, at + 8 + Math.min(said, 4096))));
    at += 8 + sizeBytes + (sizeBytes % 2);
  }
  const said = head.getUint32(4, littleEndian);
  const sizeBytes = said === unknownSize ? (large?.riff ?? said) : said;
  return { id, type: letters(head, 8), littleEndian, sizeBytes, chunks, brokenAt };
}

/**
 * Wave64: the same with GUIDs for names, whose first four letters are RIFF's in small, and sizes of eight bytes that count
 * the chunk's own 24 bytes of header; chunks begin at multiples of eight (Sony's specification, from memory).
 */
async function readWave64(file: SourceFile): Promise<Form | null> {
  const head = viewOf(await file.read(0, 40));
  if (head.byteLength < 40 || letters(head, 24) !== 'wave') return null;
  const chunks: Chunk[] = [];
  let brokenAt: number | null = null;
  for (let at = 40; at + 24 <= file.sizeBytes && chunks.length < maxChunks;) {
    const header = viewOf(await file.read(at, at + 24));
    if (header.byteLength < 24) break;
    const said = Number(header.getBigUint64(16, true));
    if (brokenAt === null && !(said >= 24 && at + said <= file.sizeBytes)) brokenAt = at;
    if (said < 24) break;
    chunks.push({ id: letters(header, 0), at: at + 24, sizeBytes: said - 24 });
    at += Math.ceil(said / 8) * 8;
  }
  const sizeBytes = Number(head.getBigUint64(16, true)) - 8;
  return { id: 'riff', type: 'WAVE', littleEndian: true, sizeBytes, chunks, brokenAt };
}

/** The body of a chunk, cut where the file ends or at `maxBytes`. */
export async function bodyOf(file: SourceFile, chunk: Chunk, maxBytes: number): Promise<DataView> {
  const end = Math.min(file.sizeBytes, chunk.at + Math.min(chunk.sizeBytes, maxBytes));
  return viewOf(await file.read(chunk.at, Math.max(chunk.at, end)));
}

interface Large {
  readonly riff: number;
  readonly sizes: ReadonlyMap<string, number>;
}

/** ds64: RIFF size, data size, sample count (8 bytes each), then a table of further chunks' ids and sizes. */
function readLarge(body: DataView): Large | null {
  if (body.byteLength < 24) return null;
  const sizes = new Map([['data', wide(body, 8)]]);
  const rows = body.byteLength >= 28 ? body.getUint32(24, true) : 0;
  for (let i = 0, at = 28; i < rows && at + 12 <= body.byteLength; i++, at += 12) {
    sizes.set(letters(body, at), wide(body, at + 4));
  }
  return { riff: wide(body, 0), sizes };
}

function wide(body: DataView, at: number): number {
  return Number(body.getBigUint64(at, true));
}

export function letters(view: DataView, at: number): string {
  return String.fromCharCode(...[0, 1, 2, 3].map((i) => view.getUint8(at + i)));
}

export function viewOf(bytes: Uint8Array): DataView {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}
