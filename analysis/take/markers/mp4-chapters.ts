/**
 * Chapters of an MP4 file (m4a, mov): the list "chpl" in the index's user data, which most programs write and read. It is
 * in no standard: a version, flags, of version 1 four bytes more, a count, then of each chapter its start in 100 ns, the
 * length of its name in a byte, and the name (from memory, checked against files that FFmpeg wrote).
 */
import type { SourceFile } from '../../ports.ts';
import { viewOf } from '../audio/chunks.ts';
import { boxesIn } from '../audio/mp4.ts';
import { leavesOf } from '../audio/mp4-tables.ts';
import { labelOf, unreadable, type MarkerReader, type RawMarker } from './marker-reader.ts';

/** Such boxes are some kilobytes; they are read alone, the sound beside them is not. */
const maxIndexBytes = 64 * 2 ** 20;
/** Boxes side by side at the top of a file; fragments make many. */
const maxTopBoxes = 100_000;
const perSecond = 1e7;

export const mp4Chapters: MarkerReader = {
  what: 'MP4 chapters',
  recognises: (_, head) =>
    /^(ftyp|moov|mdat|wide|free|skip)$/.test(String.fromCharCode(...head.subarray(4, 8))),
  async read(file) {
    const index = await indexOf(file);
    if (index === null) return null;
    const view = viewOf(index);
    const chpl = [...leavesOf(view, 0, index.length)].find(({ name }) => name === 'chpl');
    if (chpl === undefined || chpl.from === chpl.to) return null;
    const markers: RawMarker[] = [];
    let at = chpl.from + (view.getUint8(chpl.from) === 0 ? 4 : 8);
    const count = at < chpl.to ? view.getUint8(at++) : 0;
    for (let i = 1; i <= count; i++) {
      const place = `chapter ${i}`;
      const end = at + 9 <= chpl.to ? at + 9 + view.getUint8(at + 8) : Infinity;
      if (end > chpl.to)
        return { markers, notices: [unreadable(file.name, place, 'the list of chapters is cut off')] };
      const timeS = Number(view.getBigUint64(at)) / perSecond;
      markers.push({ timeS, endS: null, label: labelOf(index.subarray(at + 9, end)), place });
      at = end;
    }
    return count === 0 ? null : { markers, notices: [] };
  },
};

/** The box "moov", head included, wherever it stands. */
async function indexOf(file: SourceFile): Promise<Uint8Array | null> {
  let at = 0;
  for (let box = 0; box < maxTopBoxes && at + 8 <= file.sizeBytes; box++) {
    const head = viewOf(await file.read(at, at + 16));
    const [found] = boxesIn(head, 0, head.byteLength);
    if (!found) return null;
    // A size of 0 reaches to the end of the file.
    const size = head.getUint32(0) === 0 ? file.sizeBytes - at : found.to;
    if (found.name === 'moov')
      return size > maxIndexBytes ? null : file.read(at, Math.min(file.sizeBytes, at + size));
    at += size;
  }
  return null;
}
