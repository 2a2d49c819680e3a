/** Metadata blocks of a FLAC file (RFC 9639, section 8): a byte of type (its top bit marks the last), three of length, the body. */
import type { SourceFile } from '../../ports.ts';
import { viewOf } from '../audio/chunks.ts';
import { afterId3 } from '../audio/id3.ts';

/** Programs write a dozen; a file may be made of empty ones, each of which costs a read. */
const maxBlocks = 1000;

/**
 * @param type     of the block: 4 comments, 5 a cue sheet
 * @param maxBytes of it at most; the rest is left unread
 * @returns the body of the file's first block of that type; null where there is none, or the file is no FLAC
 */
export async function flacBlock(file: SourceFile, type: number, maxBytes: number): Promise<DataView | null> {
  let at = await startOf(file);
  if (at === null) return null;
  for (let block = 0; block < maxBlocks; block++) {
    const header = await file.read(at, at + 4);
    if (header.length < 4) return null;
    const size = (header[1] << 16) | (header[2] << 8) | header[3];
    if ((header[0] & 0x7f) === type)
      return viewOf(await file.read(at + 4, at + 4 + Math.min(size, maxBytes)));
    if (header[0] & 0x80) return null;
    at += 4 + size;
  }
  return null;
}

/** Some programs put an ID3v2 tag before the stream. */
async function startOf(file: SourceFile): Promise<number | null> {
  const head = await file.read(0, 10);
  const tag = String.fromCharCode(...head.subarray(0, 3)) === 'ID3' && head.length === 10;
  const skip = tag ? afterId3(head) : 0;
  const magic = await file.read(skip, skip + 4);
  return String.fromCharCode(...magic) === 'fLaC' ? skip + 4 : null;
}
