/**
 * Random access to interleaved samples: bytes come in blocks, and a track's part of a block is decoded when it is
 * first asked for, so that neither two tracks of a file nor overlapping reads touch the file twice.
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

interface Block {
  readonly bytes: Promise<Uint8Array>;
  /** One array a track, once decoded. */
  readonly tracks: (Float32Array | undefined)[];
}

/**
 * @param at     byte of the first sample
 * @param length samples in each track
 * @returns reads a track's samples from, up to and not including; 0 outside the file
 */
export function sampleReader(file: SourceFile, at: number, length: number, layout: SampleLayout) {
  const { frameBytes, tracks } = layout;
  const blockFrames = Math.max(1, Math.floor(blockBytes / frameBytes));
  const kept = new Map<number, Block>();

  function blockOf(index: number): Block {
    let block = kept.get(index);
    kept.delete(index); // set again below: the map's order is the order of last use
    if (!block) {
      const start = at + index * blockFrames * frameBytes;
      const end = at + Math.min(length, (index + 1) * blockFrames) * frameBytes;
      block = { bytes: file.read(start, end), tracks: new Array<undefined>(tracks) };
      // A failed read is told to whoever asked, and tried again by whoever asks next.
      block.bytes.catch(() => kept.delete(index));
      if (kept.size >= keptBlocks) kept.delete(kept.keys().next().value!);
    }
    kept.set(index, block);
    return block;
  }

  return async (track: number, from: number, to: number): Promise<Float32Array> => {
    const out = new Float32Array(Math.max(0, to - from));
    const last = Math.min(length, to);
    for (let next = Math.max(0, from); next < last;) {
      const index = Math.floor(next / blockFrames);
      const block = blockOf(index);
      const samples = (block.tracks[track] ??= decode(await block.bytes, track, layout));
      const first = index * blockFrames;
      const end = Math.min(last, first + blockFrames);
      out.set(samples.subarray(next - first, end - first), next - from);
      next = end;
    }
    return out;
  };
}

/** One track's samples of a run of frames, full scale ±1. Eight bits are unsigned (the format's rule), others signed. */
function decode(bytes: Uint8Array, track: number, layout: SampleLayout): Float32Array {
  const { sampleBytes, frameBytes, float, littleEndian } = layout;
  const out = new Float32Array(Math.floor(bytes.length / frameBytes));
  const first = track * sampleBytes;
  if (float) {
    const view = viewOf(bytes);
    for (let i = 0, at = first; i < out.length; i++, at += frameBytes) {
      out[i] = sampleBytes === 4 ? view.getFloat32(at, littleEndian) : view.getFloat64(at, littleEndian);
    }
  } else if (sampleBytes === 1) {
    for (let i = 0, at = first; i < out.length; i++, at += frameBytes) out[i] = (bytes[at] - 128) / 128;
  } else {
    // Every width is moved to the top of 32 bits, sign and all; one scale then serves them all.
    const high = littleEndian ? sampleBytes - 1 : 0;
    const down = littleEndian ? -1 : 1;
    for (let i = 0, at = first + high; i < out.length; i++, at += frameBytes) {
      let value = (bytes[at] << 24) | (bytes[at + down] << 16);
      if (sampleBytes > 2) value |= bytes[at + 2 * down] << 8;
      if (sampleBytes > 3) value |= bytes[at + 3 * down];
      out[i] = value / 2 ** 31;
    }
  }
  return out;
}
