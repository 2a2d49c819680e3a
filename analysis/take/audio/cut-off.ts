/**
 * Whether a decoded file is all there. A card that was full, a battery that ran out or a copy that broke off leaves a file
 * that decodes as far as it goes; each format has something by which it is told.
 */
import { letters, unknownSize, viewOf } from './chunks.ts';
import { mpegFrame, tagBytes, type FormatId } from './format.ts';
import { boxesIn } from './mp4.ts';

/**
 * @param length samples in each track that were decoded
 * @returns what is missing, as a sentence without its file's name; null where the file is whole, or nothing tells
 */
export function cutOff(
  format: FormatId | null,
  bytes: Uint8Array,
  length: number,
  sampleRate: number,
): string | null {
  const view = viewOf(bytes);
  const samples = saidSamples(format, view);
  const used = `${(length / sampleRate).toFixed(3)} s were used`;
  if (samples !== null && samples > length)
    return `the header says ${samples} samples, but ${length} are there; those were used`;
  const said = format === null ? null : (saidBytes[format]?.(view) ?? null);
  if (said !== null && said > bytes.length + 1)
    return `the header says ${said} bytes in all, but there are ${bytes.length}; ${used}`;
  if (format === 'ogg' && !endsWithLastPage(view)) return `it breaks off: its last page is missing; ${used}`;
  if (format === 'mpeg' && breaksFrame(bytes)) return `it breaks off within a frame; ${used}`;
  return null;
}

/** Samples in each track as the header has them; null where it does not say. */
function saidSamples(format: FormatId | null, view: DataView): number | null {
  // STREAMINFO is a FLAC file's first block: 20 bits of rate, 3 of tracks, 5 of width, 36 of length (RFC 9639 §8.2).
  if (format === 'flac' && view.byteLength >= 26 && letters(view, 0) === 'fLaC')
    return known((view.getUint8(21) & 15) * 2 ** 32 + view.getUint32(22));
  if (format === 'tta' && view.byteLength >= 22) return known(view.getUint32(14, true));
  if (format === 'wv' && view.byteLength >= 16) {
    const said = view.getUint32(12, true);
    return said === 0xffffffff ? null : known(said);
  }
  return null;
}

function known(samples: number): number | null {
  return samples > 0 ? samples : null;
}

/** Bytes that the file has by its own word; null where it does not say. */
const saidBytes: Partial<Record<FormatId, (view: DataView) => number | null>> = {
  aiff: (view) => 8 + view.getUint32(4),
  wav: sizeOfRiff,
  avi: sizeOfRiff,
  caf: endOfCaf,
  mp4: (view) => boxesIn(view, 0, view.byteLength).at(-1)?.to ?? null,
  mkv: endOfSegment,
  asf: sizeOfAsf,
  mpeg: endOfMpeg,
};

function sizeOfRiff(view: DataView): number | null {
  const said = view.getUint32(4, letters(view, 0) !== 'RIFX');
  return said === unknownSize ? null : 8 + said;
}

/** Chunks of four letters and eight bytes of size; −1 is "to the end of the file" (CAF 1.0). */
function endOfCaf(view: DataView): number | null {
  let at = 8;
  while (at + 12 <= view.byteLength) {
    const size = Number(view.getBigInt64(at + 4));
    if (size < 0) return null;
    at += 12 + size;
  }
  return at;
}

/** The EBML header, then the segment that holds all else (RFC 8794: sizes of 1 to 8 bytes, all ones is "unknown"). */
function endOfSegment(view: DataView): number | null {
  const header = sizeAt(view, 4);
  if (header === null) return null;
  const segment = header.from + header.size;
  if (segment + 5 > view.byteLength || view.getUint32(segment) !== 0x18538067) return null;
  const body = sizeAt(view, segment + 4);
  return body && body.from + body.size;
}

function sizeAt(view: DataView, at: number): { from: number; size: number } | null {
  if (at >= view.byteLength) return null;
  const length = Math.clz32(view.getUint8(at)) - 23;
  if (length > 8 || at + length > view.byteLength) return null;
  let size = view.getUint8(at) & (0xff >> length);
  let ones = size === 0xff >> length;
  for (let i = 1; i < length; i++) {
    size = size * 256 + view.getUint8(at + i);
    ones &&= view.getUint8(at + i) === 0xff;
  }
  return ones ? null : { from: at + length, size };
}

/** ASF's File Properties object has the file's size behind its GUID, its own size and the file's GUID. */
function sizeOfAsf(view: DataView): number | null {
  for (let at = 30; at + 48 <= Math.min(view.byteLength, 2 ** 16); at++) {
    if (view.getUint32(at) === 0xa1dcab8c && view.getUint32(at + 4) === 0x47a9cf11)
      return known(Number(view.getBigUint64(at + 40, true)));
  }
  return null;
}

/** An encoder's own header in the first frame: "Xing" or "Info", flags, frames (flag 1), bytes (flag 2). */
function endOfMpeg(view: DataView): number | null {
  const bytes = new Uint8Array(view.buffer, view.byteOffset, view.byteLength);
  const at = tagBytes(bytes);
  const frame = mpegFrame(bytes, at);
  if (!frame || at + frame.sideBytes + 16 > view.byteLength) return null;
  const header = at + frame.sideBytes;
  if (!/^(Xing|Info)$/.test(letters(view, header))) return null;
  const flags = view.getUint32(header + 4);
  return flags & 2 ? at + view.getUint32(header + (flags & 1 ? 12 : 8)) : null;
}

/** Whether the last frame of MPEG audio is cut; tags behind the frames are none. */
function breaksFrame(bytes: Uint8Array): boolean {
  let at = tagBytes(bytes);
  for (let frame = mpegFrame(bytes, at); frame !== null; frame = mpegFrame(bytes, at)) {
    at += frame.bytes;
    if (at > bytes.length) return true;
  }
  return false;
}

/** An Ogg page is at most 65 307 bytes (RFC 3533 §6); the last one says that it is. */
const longestPage = 65_307;

function endsWithLastPage(view: DataView): boolean {
  for (let at = view.byteLength - 27; at >= Math.max(0, view.byteLength - longestPage); at--) {
    if (view.getUint32(at) !== 0x4f676753) continue;
    const segments = view.getUint8(at + 26);
    let end = at + 27 + segments;
    for (let i = 0; i < segments && at + 27 + i < view.byteLength; i++) end += view.getUint8(at + 27 + i);
    return end <= view.byteLength && (view.getUint8(at + 5) & 4) !== 0;
  }
  return false;
}
