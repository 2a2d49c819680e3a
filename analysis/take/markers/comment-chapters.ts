/**
 * Chapters in the comments of FLAC (RFC 9639, 8.6) and Ogg files: Vorbis and Opus carry them in their second packet
 * (Vorbis I specification, 5; RFC 7845, 5.2), FLAC in Ogg as the block that it is elsewhere.
 */
import type { SourceFile } from '../../ports.ts';
import { viewOf } from '../audio/chunks.ts';
import { ofComments } from './chapters.ts';
import { flacBlock } from './flac-blocks.ts';
import type { MarkerReader } from './marker-reader.ts';

const COMMENTS = 4;
/** A chapter takes some sixty bytes; longer comments hold a picture, which comes last. */
const maxCommentBytes = 2 ** 20;

export const commentChapters: MarkerReader = {
  what: 'chapters in FLAC and Ogg comments',
  recognises: (_, head) => /^(fLaC|ID3|OggS)/.test(String.fromCharCode(...head.subarray(0, 4))),
  async read(file) {
    const isOgg = String.fromCharCode(...(await file.read(0, 4))) === 'OggS';
    const body = isOgg ? await oggComments(file) : await flacBlock(file, COMMENTS, maxCommentBytes);
    if (body === null) return null;
    const text = commentsIn(body)
      .filter((comment) => /^CHAPTER\d/i.test(comment))
      .join('\n');
    return text === '' ? null : ofComments(file.name, text);
  },
};

/** A vendor's name and the comments, each after its length in bytes; what is cut off is left out. */
function commentsIn(view: DataView): string[] {
  const comments: string[] = [];
  if (view.byteLength < 4) return comments;
  let at = 4 + view.getUint32(0, true);
  if (at + 4 > view.byteLength) return comments;
  let left = view.getUint32(at, true);
  for (at += 4; left > 0 && at + 4 <= view.byteLength; left--) {
    const length = view.getUint32(at, true);
    at += 4;
    if (at + length > view.byteLength) break;
    const bytes = new Uint8Array(view.buffer, view.byteOffset + at, length);
    // A line break within a comment would begin another one.
    comments.push(new TextDecoder().decode(bytes).replace(/\s+/g, ' '));
    at += length;
  }
  return comments;
}

async function oggComments(file: SourceFile): Promise<DataView | null> {
  const packet = secondPacket(await file.read(0, maxCommentBytes));
  if (packet === null) return null;
  const text = (to: number) => String.fromCharCode(...packet.subarray(0, to));
  if (text(7) === '\x03vorbis') return viewOf(packet.subarray(7));
  if (text(8) === 'OpusTags') return viewOf(packet.subarray(8));
  return (packet[0] & 0x7f) === COMMENTS ? viewOf(packet.subarray(4)) : null;
}

/** A page has up to 255 segments; a packet ends with its first segment of fewer than 255 bytes (RFC 3533, 5). */
function secondPacket(bytes: Uint8Array): Uint8Array | null {
  const parts: Uint8Array[] = [];
  let packet = 0;
  for (let page = 0; page + 27 <= bytes.length;) {
    if (String.fromCharCode(...bytes.subarray(page, page + 4)) !== 'OggS') return null;
    const sizes = bytes.subarray(page + 27, page + 27 + bytes[page + 26]);
    let at = page + 27 + sizes.length;
    for (const size of sizes) {
      if (packet === 1) parts.push(bytes.subarray(at, at + size));
      at += size;
      if (size < 255 && ++packet === 2) return joined(parts);
    }
    page = at;
  }
  return parts.length > 0 ? joined(parts) : null;
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  const out = new Uint8Array(parts.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}
