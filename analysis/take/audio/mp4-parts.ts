/**
 * An MP4 file in the order in which a decoder can take it a part at a time. Phones write the index ("moov") when they stop,
 * behind the sound; a decoder that is given the file from its beginning keeps all of it until the index comes, and then
 * decodes all at once, which nothing bounds. So the index goes first here, its offsets set right for that.
 */
import { viewOf } from './chunks.ts';
import { boxesIn } from './mp4.ts';
import { leavesOf } from './mp4-tables.ts';

/**
 * A packet may be one byte and unpack to 120 ms of two tracks (Opus) or 16 384 samples (ALAC): so much, of each part, is
 * at most half of what may be held.
 */
const partBytes = 2 ** 13;

/**
 * @returns the index, then the file in parts, so that each part brings the decoder forward; null where there is no index,
 *   or not all of it
 */
export function mp4Parts(bytes: Uint8Array): Iterable<Uint8Array> | null {
  const all = boxesIn(viewOf(bytes), 0, bytes.length);
  const moov = all.find(({ name }) => name === 'moov');
  if (!moov || moov.to > bytes.length) return null;
  // Fragments follow their index, and count from places that must not move.
  const isFirst = !all.some(({ name, at }) => /^(mdat|moof)$/.test(name) && at < moov.at);
  if (isFirst) return parted(bytes.subarray(0, moov.to), bytes, moov.to);
  const index = bytes.slice(moov.at, moov.to);
  moveOffsets(viewOf(index));
  return parted(index, bytes, 0);
}

function* parted(index: Uint8Array, bytes: Uint8Array, from: number): Iterable<Uint8Array> {
  yield index;
  for (let at = from; at < bytes.length; at += partBytes) yield bytes.subarray(at, at + partBytes);
}

/** Where the packets lie counts from the file's beginning, before which the index stands now. */
function moveOffsets(index: DataView): void {
  const by = index.byteLength;
  for (const { name, from, to } of leavesOf(index, 0, by)) {
    if (name === 'stco')
      for (let at = from + 8; at + 4 <= to; at += 4) index.setUint32(at, index.getUint32(at) + by);
    if (name === 'co64')
      for (let at = from + 8; at + 8 <= to; at += 8)
        index.setBigUint64(at, BigInt.asUintN(64, index.getBigUint64(at) + BigInt(by)));
  }
}
