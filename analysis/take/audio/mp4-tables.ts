/**
 * Whether an MP4 file's tables can be believed before a decoder makes room for what they say: a file of a kilobyte can
 * name four billion packets, or packets of no bytes that unpack to something. ISO/IEC 14496-12, from memory.
 */
import { letters } from './chunks.ts';
import { boxesIn, type Box } from './mp4.ts';

/** Boxes that hold boxes, wherever a decoder looks for tables. */
const containers = new Set([
  ...['moov', 'trak', 'mdia', 'minf', 'stbl', 'udta', 'edts', 'sinf', 'wave', 'mvex', 'moof', 'traf'],
]);
/** Files nest to six or so. */
const maxDepth = 16;
/** Each costs the decoder eight bytes; PCM has a packet a sample: three quarters of an hour at 48 kHz. */
const maxPackets = 2 ** 27;
/** Empty packets cost no bytes of the file and may unpack to something all the same; recordings have none. */
const maxEmptyPackets = 1000;
/** Samples of an ALAC packet; encoders write 4096, and the format's own encoder goes no further than this (from memory). */
const maxAlacPacket = 2 ** 14;

/** Boxes that hold no others, in the order of the file; those that run past the end are left out. */
export function* leavesOf(view: DataView, from: number, end: number, depth = 0): Iterable<Box> {
  for (const box of boxesIn(view, from, end)) {
    if (box.to > end) return;
    if (!containers.has(box.name)) yield box;
    else if (depth < maxDepth) yield* leavesOf(view, box.from, box.to, depth + 1);
    // A decoder sees tracks and fragments begin.
    if (box.name === 'trak' || box.name === 'traf') yield { ...box, name: `/${box.name}` };
  }
}

/** @returns what is wrong with the tables, without the file's name; null where they can be read */
export function mp4Fault(bytes: Uint8Array, view: DataView): string | null {
  let [packets, empty] = [0, 0];
  let offsets: Box | null = null;
  let isSound = false;
  const defaults = new Map<number, number>();
  let ofFragment = 0;
  for (const box of leavesOf(view, 0, bytes.length)) {
    const { name, from, to } = box;
    const read = readers[name];
    if (read !== undefined && from + read.headBytes > to) return `its table "${name}" is cut off`;
    if (read?.entryBytes !== undefined) {
      const count = view.getUint32(from + read.headBytes - 4);
      const each = read.entryBytes(view, from);
      if (count * each > to - from - read.headBytes)
        return `its table "${name}" says ${count} rows and has fewer`;
    }
    switch (name) {
      case 'hdlr':
        isSound = letters(view, from + 8) === 'soun';
        break;
      case 'stco':
      case 'co64':
        offsets = box;
        break;
      case 'stsz':
        if (view.getUint32(from + 4) === 0) empty += zerosIn(view, from + 12, to);
        packets += view.getUint32(from + 8);
        break;
      case 'trex':
        defaults.set(view.getUint32(from + 4), view.getUint32(from + 16));
        break;
      case 'tfhd':
        ofFragment = defaultIn(view, box) ?? defaults.get(view.getUint32(from + 4)) ?? 0;
        break;
      case 'trun': {
        const count = view.getUint32(from + 4);
        packets += count;
        // Sizes of their own stand in the rows; a size for all is in the fragment's head.
        if (!(view.getUint32(from) & 0x200) && ofFragment === 0) empty += count;
        else if (view.getUint32(from) & 0x200) empty += emptyInRun(view, box, count);
        break;
      }
      case '/trak':
        if (isSound && offsets !== null && !isAscending(view, offsets))
          return 'its sound does not lie in order in the file';
        [isSound, offsets] = [false, null];
        break;
    }
    if (packets > maxPackets || empty > maxEmptyPackets)
      return `its index names ${packets} packets of sound and picture, ${empty} of them empty`;
  }
  return alacFault(bytes, view);
}

interface Table {
  /** Bytes before the rows; the last four are their count, where there are rows. */
  readonly headBytes: number;
  readonly entryBytes?: (view: DataView, from: number) => number;
}

/** What is read below, or by the decoder. */
const readers: Readonly<Record<string, Table>> = {
  hdlr: { headBytes: 12 },
  trex: { headBytes: 20 },
  tfhd: { headBytes: 8 },
  stsz: { headBytes: 12, entryBytes: (view, from) => (view.getUint32(from + 4) > 0 ? 0 : 4) },
  stco: { headBytes: 8, entryBytes: () => 4 },
  co64: { headBytes: 8, entryBytes: () => 8 },
  stsc: { headBytes: 8, entryBytes: () => 12 },
  trun: { headBytes: 8, entryBytes: (view, from) => rowBytes(view.getUint32(from)) },
};

/** Four bytes for each of a row's parts that the flags name: duration, size, flags, offset. */
function rowBytes(flags: number): number {
  return 4 * [0x100, 0x200, 0x400, 0x800].filter((flag) => flags & flag).length;
}

function zerosIn(view: DataView, from: number, to: number): number {
  let zeros = 0;
  for (let at = from; at + 4 <= to; at += 4) if (view.getUint32(at) === 0) zeros++;
  return zeros;
}

/** tfhd: flags, track, then what the flags name; the size for all is the fourth (0x10). */
function defaultIn(view: DataView, { from, to }: Box): number | null {
  const flags = view.getUint32(from);
  const at = from + 8 + (flags & 1 ? 8 : 0) + (flags & 2 ? 4 : 0) + (flags & 8 ? 4 : 0);
  return flags & 0x10 && at + 4 <= to ? view.getUint32(at) : null;
}

function emptyInRun(view: DataView, { from, to }: Box, count: number): number {
  const flags = view.getUint32(from);
  const row = rowBytes(flags);
  const first = from + 8 + (flags & 1 ? 4 : 0) + (flags & 4 ? 4 : 0) + (flags & 0x100 ? 4 : 0);
  let zeros = 0;
  for (let i = 0; i < count && first + i * row + 4 <= to; i++)
    if (view.getUint32(first + i * row) === 0) zeros++;
  return zeros;
}

function isAscending(view: DataView, { name, from, to }: Box): boolean {
  const bytes = name === 'stco' ? 4 : 8;
  const offset = (at: number) => (bytes === 4 ? BigInt(view.getUint32(at)) : view.getBigUint64(at));
  for (let at = from + 8 + bytes; at + bytes <= to; at += bytes)
    if (offset(at) < offset(at - bytes)) return false;
  return true;
}

/** A sample description of ALAC has a box of the same name within, whose last 24 bytes say the samples of a packet. */
function alacFault(bytes: Uint8Array, view: DataView): string | null {
  for (const { name, from, to } of leavesOf(view, 0, bytes.length)) {
    if (name !== 'stsd') continue;
    for (let at = from + 20; at + 32 <= to; at++) {
      if (letters(view, at) !== 'alac') continue;
      const end = at - 4 + view.getUint32(at - 4);
      if (end - 24 < at || end > to) continue;
      const samples = view.getUint32(end - 24);
      if (samples > maxAlacPacket) return `its ALAC packets are said to hold ${samples} samples each`;
    }
  }
  return null;
}
