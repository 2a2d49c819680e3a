/**
 * tests/rig/ makes takes from real recordings placed at known times, and scores what was heard on them. Tests and
 * benchmarks of hearing share it.
 *
 * This file reads Gravis UltraSound patches (GF1PATCH110), little-endian, all offsets in bytes:
 *
 *   129  file:       'GF1PATCH110\0', 'ID#000002\0', 60 text, instruments u8, voices u8, channels u8, waveforms u16, volume u16, size u32, 36 unused
 *    63  instrument: id u16, 16 text, size u32, layers u8, 40 unused
 *    47  layer:      2 bytes, size u32, samples u8, 40 unused
 *   then for each sample 96: name 7, fractions u8, size u32, loop start u32, loop end u32, rate u16, low, high and root pitch u32 (mHz),
 *        tune i16, balance u8, 12 envelope, 6 tremolo and vibrato, modes u8 (bit 0: 16 bits; bit 1: unsigned; bit 2: looped),
 *        scale i16, factor u16, 36 unused; then its `size` bytes of samples.
 *
 * Source: the layout is the one in the Gravis UltraSound SDK's "FORTE's patch format, v1.10", as given by the many open-source readers of it; that each
 * of the 57 patches of Debian's freepats 20060219 ends where this layout says is checked in tests/rig/patch.test.ts.
 */

export interface PatchSample {
  readonly sampleRate: number;
  readonly looped: boolean;
  /** Full scale ±1 */
  readonly samples: Float32Array;
}

const fileBytes = 129;
const instrumentBytes = 63;
const layerBytes = 47;
const sampleBytes = 96;

/** @throws RangeError where it is not such a patch, or ends too early or too late */
export function readPatch(bytes: Uint8Array): PatchSample[] {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (String.fromCharCode(...bytes.subarray(0, 11)) !== 'GF1PATCH110')
    throw new RangeError('not a GF1 patch');
  const count = view.getUint8(fileBytes + instrumentBytes + 6);
  let at = fileBytes + instrumentBytes + layerBytes;
  const out = Array.from({ length: count }, () => {
    const size = view.getUint32(at + 8, true);
    const modes = view.getUint8(at + 55);
    const sampleRate = view.getUint16(at + 20, true);
    const data = new DataView(bytes.buffer, bytes.byteOffset + at + sampleBytes, size);
    at += sampleBytes + size;
    return {
      sampleRate,
      looped: (modes & 4) !== 0,
      samples: pcm(data, (modes & 1) !== 0, (modes & 2) !== 0),
    };
  });
  if (at !== bytes.length) throw new RangeError(`the patch ends at byte ${at}, the file at ${bytes.length}`);
  return out;
}

function pcm(data: DataView, wide: boolean, unsigned: boolean): Float32Array {
  const out = new Float32Array(data.byteLength / (wide ? 2 : 1));
  for (let i = 0; i < out.length; i++) {
    const x = wide ? data.getInt16(2 * i, true) / 2 ** 15 : data.getInt8(i) / 2 ** 7;
    // Unsigned samples are the signed ones with the top bit turned over.
    out[i] = unsigned ? (x < 0 ? x + 1 : x - 1) : x;
  }
  return out;
}
