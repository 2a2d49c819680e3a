/**
 * What an MP4 file (m4a, mov, 3gp) says of its sound: ISO/IEC 14496-12, boxes of a size, a name and a body, within one
 * another. Only the first track of sound is read, which is the one that is decoded.
 */
import { letters, viewOf } from './chunks.ts';

export interface Mp4Sound {
  /** Name of the coding: "mp4a", "alac" … */
  readonly codec: string;
  /** Of the coded sound, bytes; null where no table says it. */
  readonly codedBytes: number | null;
  /** An edit list or an encoder's own note says what the encoder put before the first sample. */
  readonly delayKnown: boolean;
}

export interface Box {
  readonly name: string;
  /** Byte of its size, which stands first. */
  readonly at: number;
  /** Byte of its body. */
  readonly from: number;
  /** Byte behind it; may lie past the end. */
  readonly to: number;
}

/** More boxes side by side than any file has; a file made to have more would only hold us up. */
const maxBoxes = 100_000;

/** The boxes between two bytes; the last may run past the end. */
export function boxesIn(view: DataView, from: number, end: number): Box[] {
  const boxes: Box[] = [];
  for (let at = from; at + 8 <= end && boxes.length < maxBoxes;) {
    const short = view.getUint32(at);
    if (short === 1 && at + 16 > end) break;
    const size = short === 1 ? Number(view.getBigUint64(at + 8)) : short === 0 ? end - at : short;
    if (size < 8) break;
    boxes.push({ name: letters(view, at + 4), at, from: at + (short === 1 ? 16 : 8), to: at + size });
    at += size;
  }
  return boxes;
}

/** @returns null where the file has no index ("moov") or no sound */
export function mp4Sound(bytes: Uint8Array): Mp4Sound | null {
  const view = viewOf(bytes);
  const inside = (boxes: readonly Box[], ...path: string[]): Box | null => {
    const box = boxes.find(({ name }) => name === path[0]);
    if (!box || box.to > bytes.length) return null;
    return path.length === 1 ? box : inside(boxesIn(view, box.from, box.to), ...path.slice(1));
  };
  const moov = inside(boxesIn(view, 0, bytes.length), 'moov');
  if (!moov) return null;
  for (const trak of boxesIn(view, moov.from, moov.to).filter(({ name }) => name === 'trak')) {
    const parts = boxesIn(view, trak.from, Math.min(trak.to, bytes.length));
    const handler = inside(parts, 'mdia', 'hdlr');
    const described = inside(parts, 'mdia', 'minf', 'stbl', 'stsd');
    if (!handler || handler.from + 12 > bytes.length || letters(view, handler.from + 8) !== 'soun') continue;
    if (!described || described.from + 16 > bytes.length) continue;
    const sizes = inside(parts, 'mdia', 'minf', 'stbl', 'stsz');
    const edits = inside(parts, 'edts', 'elst');
    return {
      codec: letters(view, described.from + 12),
      codedBytes: sizes && sumOfSizes(view, sizes),
      delayKnown: edits !== null || has(bytes.subarray(moov.from, moov.to), 'iTunSMPB'),
    };
  }
  return null;
}

/** stsz: version, one size for all or 0, count, sizes. */
function sumOfSizes(view: DataView, { from, to }: Box): number | null {
  if (from + 12 > to) return null;
  const [same, count] = [view.getUint32(from + 4), view.getUint32(from + 8)];
  if (same > 0) return same * count;
  let sum = 0;
  for (let i = 0; i < count && from + 16 + 4 * i <= to; i++) sum += view.getUint32(from + 12 + 4 * i);
  return sum > 0 ? sum : null;
}

/** Whether a text of plain letters stands in the bytes. */
export function has(bytes: Uint8Array, text: string): boolean {
  const first = text.charCodeAt(0);
  for (let at = bytes.indexOf(first); at >= 0; at = bytes.indexOf(first, at + 1)) {
    let same = 1;
    while (same < text.length && bytes[at + same] === text.charCodeAt(same)) same++;
    if (same === text.length) return true;
  }
  return false;
}
