/**
 * Random access to interleaved samples. The file is read in blocks of bytes, and a few are kept, so that neither two
 * tracks of a file nor overlapping reads touch it twice; decoding goes straight from them to what was asked for.
 */
import type { SourceFile } from '../../ports.ts';
import { viewOf } from './chunks.ts';

/** How samples stand in the file: frame after frame, in each one sample of every track. */
export interface SampleLayout {
  readonly tracks: number;
  /** Bytes of one sample of one track. */
  readonly sampleBytes: number;
  readonly frameBytes: number;
  readonly float: boolean;
  readonly littleEndian: boolean;
}

/** A quarter MiB a block: large enough that the calls do not count, small enough that one hit's samples are cheap. */
const blockBytes = 2 ** 18;
/** Blocks kept: a few tracks read side by side, each with an overlap into the block before. */
const keptBlocks = 6;

/**
 * @param at     byte of the first sample
 * @param length samples in each track
 * @returns reads a track's samples from, up to and not including; 0 outside the file
 */
export function sampleReader(file: SourceFile, at: number, length: number, layout: SampleLayout) {
  const { frameBytes } = layout;
  const blockFrames = Math.max(1, Math.floor(blockBytes / frameBytes));
  const kept = new Map<number, Promise<Uint8Array>>();

  function block(index: number): Promise<Uint8Array> {
    let bytes = kept.get(index);
    kept.delete(index); // set again below: the map's order is the order of last use
    if (!bytes) {
      const start = at + index * blockFrames * frameBytes;
      const end = at + Math.min(length, (index + 1) * blockFrames) * frameBytes;
      bytes = file.read(start, end);
      // A failed read is told to whoever asked, and tried again for whoever asks next.
      bytes.catch(() => kept.delete(index));
      if (kept.size >= keptBlocks) kept.delete(kept.keys().next().value!);
    }
    kept.set(index, bytes);
    return bytes;
  }

  return async (track: number, from: number, to: number): Promise<Float32Array> => {
    const out = new Float32Array(Math.max(0, to - from));
    const last = Math.min(length, to);
    for (let next = Math.max(0, from); next < last;) {
      const index = Math.floor(next / blockFrames);
      const first = index * blockFrames;
      const end = Math.min(last, first + blockFrames);
      decode(await block(index), next - first, track, layout, out.subarray(next - from, end - from));
      next = end;
    }
    return out;
  };
}

/**
 * One track's samples from a frame on, full scale ±1, for as long as there is room and there are bytes. Eight bits are
 * unsigned (the format's rule), others signed.
 */
function decode(bytes: Uint8Array, frame: number, track: number, layout: SampleLayout, out: Float32Array) {
  const { sampleBytes, frameBytes, float, littleEndian } = layout;
  const first = frame * frameBytes + track * sampleBytes;
  // Fewer bytes than asked for: the file has shrunk since it was opened.
  const count = Math.min(out.length, Math.floor(bytes.length / frameBytes) - frame);
  if (float) {
    const view = viewOf(bytes);
    for (let i = 0, at = first; i < count; i++, at += frameBytes) {
      out[i] = sampleBytes === 4 ? view.getFloat32(at, littleEndian) : view.getFloat64(at, littleEndian);
    }
  } else if (sampleBytes === 1) {
    for (let i = 0, at = first; i < count; i++, at += frameBytes) out[i] = (bytes[at] - 128) / 128;
  } else {
    // Every width is moved to the top of 32 bits, sign and all; one scale then serves them all.
    const high = littleEndian ? sampleBytes - 1 : 0;
    const down = littleEndian ? -1 : 1;
    for (let i = 0, at = first + high; i < count; i++, at += frameBytes) {
      let value = (bytes[at] << 24) | (bytes[at + down] << 16);
      if (sampleBytes > 2) value |= bytes[at + 2 * down] << 8;
      if (sampleBytes > 3) value |= bytes[at + 3 * down];
      out[i] = value / 2 ** 31;
    }
  }
}
