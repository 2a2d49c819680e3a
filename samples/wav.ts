/** Writes RIFF/WAVE files (Multimedia Programming Interface and Data Specifications 1.0, 1991): bytes out. */

export type SampleFormat = 'int16' | 'int24' | 'int32' | 'float32';

export interface Cue {
  /** Sample at which the cue stands. */
  readonly sample: number;
  readonly label: string;
  /** Samples the cue spans, where it is a range. */
  readonly lengthSamples?: number;
}

const bytesOf: Record<SampleFormat, number> = { int16: 2, int24: 3, int32: 4, float32: 4 };
const PCM = 1;
const FLOAT = 3;

/**
 * @param tracks full scale ±1; shorter ones are filled with silence; what lies outside full scale is cut there, except in float
 */
export function writeWav(
  sampleRate: number,
  tracks: readonly Float32Array[],
  format: SampleFormat = 'int16',
  cues: readonly Cue[] = [],
): Uint8Array {
  const width = bytesOf[format];
  const frame = width * tracks.length;
  const length = Math.max(0, ...tracks.map((track) => track.length));
  const data = new Uint8Array(length * frame);
  tracks.forEach((track, t) => writeSamples(new DataView(data.buffer), t * width, frame, track, format));

  const fmt = new DataView(new ArrayBuffer(16));
  fmt.setUint16(0, format === 'float32' ? FLOAT : PCM, true);
  fmt.setUint16(2, tracks.length, true);
  fmt.setUint32(4, sampleRate, true);
  fmt.setUint32(8, sampleRate * frame, true);
  fmt.setUint16(12, frame, true);
  fmt.setUint16(14, width * 8, true);

  const chunks = [chunk('fmt ', bytes(fmt)), chunk('data', data)];
  if (cues.length > 0) chunks.push(chunk('cue ', cuePoints(cues)), chunk('LIST', cueLabels(cues)));
  return chunk('RIFF', concat([ascii('WAVE'), ...chunks]));
}

function writeSamples(
  view: DataView,
  from: number,
  frame: number,
  track: Float32Array,
  format: SampleFormat,
) {
  const clip = (x: number, scale: number) => Math.max(-scale, Math.min(scale - 1, Math.round(x * scale)));
  for (let i = 0, at = from; i < track.length; i++, at += frame) {
    const x = track[i];
    if (format === 'int16') view.setInt16(at, clip(x, 2 ** 15), true);
    else if (format === 'int32') view.setInt32(at, clip(x, 2 ** 31), true);
    else if (format === 'float32') view.setFloat32(at, x, true);
    else {
      const whole = clip(x, 2 ** 23);
      view.setUint16(at, whole & 0xffff, true);
      view.setInt8(at + 2, whole >> 16);
    }
  }
}

/** Records of 24 bytes: id, position, 'data', chunkStart, blockStart, sampleOffset. */
function cuePoints(cues: readonly Cue[]): Uint8Array {
  const view = new DataView(new ArrayBuffer(4 + 24 * cues.length));
  view.setUint32(0, cues.length, true);
  cues.forEach((cue, i) => {
    const at = 4 + 24 * i;
    view.setUint32(at, i + 1, true);
    view.setUint32(at + 4, cue.sample, true);
    bytes(view).set(ascii('data'), at + 8);
    view.setUint32(at + 20, cue.sample, true);
  });
  return bytes(view);
}

/** labl: id and text; ltxt: id, length, purpose 'rgn ', country, language, dialect, code page. */
function cueLabels(cues: readonly Cue[]): Uint8Array {
  const parts = [ascii('adtl')];
  cues.forEach((cue, i) => {
    parts.push(chunk('labl', concat([u32(i + 1), new TextEncoder().encode(`${cue.label}\0`)])));
    if (cue.lengthSamples !== undefined)
      parts.push(
        chunk('ltxt', concat([u32(i + 1), u32(cue.lengthSamples), ascii('rgn '), new Uint8Array(8)])),
      );
  });
  return concat(parts);
}

/** A chunk's size does not count the byte that pads it to an even length. */
function chunk(id: string, body: Uint8Array): Uint8Array {
  return concat([ascii(id), u32(body.length), body, new Uint8Array(body.length % 2)]);
}

function u32(value: number): Uint8Array {
  const view = new DataView(new ArrayBuffer(4));
  view.setUint32(0, value, true);
  return bytes(view);
}

function ascii(text: string): Uint8Array {
  return Uint8Array.from(text, (c) => c.charCodeAt(0));
}

function bytes(view: DataView): Uint8Array {
  return new Uint8Array(view.buffer);
}

function concat(parts: readonly Uint8Array[]): Uint8Array {
  const out = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}
