/**
 * Decoding with a bound on what comes out. A compressed file of two megabytes can hold hours of silence, which would fill
 * the memory: FLAC is counted before it is decoded, formats that decode in parts are stopped at the part that goes beyond;
 * MP4 is given to the decoder with its index first, and only where its tables can be believed.
 */
import { InputProblem } from '../../input/problem.ts';
import { viewOf } from './chunks.ts';
import { flacSamples } from './flac-frames.ts';
import { formatHeadBytes, formatOf } from './format.ts';
import { mp4Parts } from './mp4-parts.ts';
import { mp4Fault } from './mp4-tables.ts';

/** As Web Audio has it: an array of samples for each track. */
export interface Decoded {
  readonly channelData: readonly Float32Array[];
  readonly sampleRate: number;
}

/**
 * Of all tracks together; 4 bytes each, so 2 GiB: an hour and a half of two tracks at 48 kHz. Above, a computer of 8 GB
 * has no room left for the analysis.
 */
export const maxDecodedSamples = 2 ** 29;

/** One more than the longest page of Ogg (65 307 bytes, RFC 3533), so that each part brings a decoder forward. */
const partBytes = 2 ** 16;

/**
 * @param file for messages
 * @throws InputProblem where more comes out than can be held; what audio-decode throws where it cannot be decoded
 */
export async function decodeBounded(
  file: string,
  bytes: Uint8Array,
  maxSamples = maxDecodedSamples,
): Promise<Decoded> {
  if (flacSamples(bytes) > maxSamples) throw tooLong(file, maxSamples);
  const { default: decode } = await import('audio-decode');
  const format = inParts(bytes);
  const fault = format === 'm4a' ? mp4Fault(bytes, viewOf(bytes)) : null;
  if (fault !== null) throw new InputProblem(file, '', fault, again);
  const parts = format === null ? null : format === 'm4a' ? mp4Parts(bytes) : parted(bytes);
  const decoded =
    format === null || parts === null
      ? await decode(bytes)
      : await decodeParts(file, parts, format, maxSamples);
  // What cannot be decoded in parts is at least not carried on.
  if (samplesIn(decoded) > maxSamples) throw tooLong(file, maxSamples);
  return decoded;
}

const again = 'turn it into WAV or FLAC with any audio or video converter, and put that here in its place';

type FormatInParts = 'oga' | 'opus' | 'mp3' | 'aac' | 'mkv' | 'webm' | 'm4a';

/** Formats of which the same samples come out in parts as whole (tests/take/bounded.test.ts), by their first bytes. */
function inParts(bytes: Uint8Array): FormatInParts | null {
  const text = (from: number, to: number) => String.fromCharCode(...bytes.subarray(from, to));
  if (text(0, 4) === 'OggS') {
    if (text(28, 36) === 'OpusHead') return 'opus';
    return text(28, 35) === '\x01vorbis' ? 'oga' : null;
  }
  if (text(0, 4) === '\x1aE\xdf\xa3') return text(0, 64).includes('webm') ? 'webm' : 'mkv';
  const known = formatOf(bytes.subarray(0, formatHeadBytes));
  return known === 'mp4' ? 'm4a' : known === 'mpeg' ? 'mp3' : known === 'aac' ? 'aac' : null;
}

function* parted(bytes: Uint8Array): Iterable<Uint8Array> {
  for (let at = 0; at < bytes.length; at += partBytes) yield bytes.subarray(at, at + partBytes);
}

async function decodeParts(
  file: string,
  all: Iterable<Uint8Array>,
  format: FormatInParts,
  maxSamples: number,
): Promise<Decoded> {
  const { default: decode } = await import('audio-decode');
  // Its types leave some formats out.
  const open = (decode as unknown as Record<FormatInParts, typeof decode.mp3>)[format];
  const decoder = await open();
  const parts: Decoded[] = [];
  let samples = 0;
  const keep = (part: Decoded) => {
    if (part.channelData.length === 0) return;
    parts.push(part);
    samples += samplesIn(part);
    if (samples > maxSamples) throw tooLong(file, maxSamples);
  };
  try {
    for (const bytes of all) keep(await decoder(bytes));
    keep(await decoder());
  } finally {
    decoder.free();
  }
  return joined(parts);
}

/** A part whose two tracks were the same came as one. */
function joined(parts: readonly Decoded[]): Decoded {
  const tracks = Math.max(0, ...parts.map(({ channelData }) => channelData.length));
  const length = parts.reduce((sum, { channelData }) => sum + channelData[0].length, 0);
  const channelData = Array.from({ length: tracks }, (_, track) => {
    const whole = new Float32Array(length);
    let at = 0;
    for (const { channelData } of parts) {
      whole.set(channelData[track % channelData.length], at);
      at += channelData[0].length;
    }
    return whole;
  });
  return { channelData, sampleRate: parts[0]?.sampleRate ?? 0 };
}

const samplesIn = ({ channelData }: Decoded) => channelData.length * (channelData[0]?.length ?? 0);

function tooLong(file: string, maxSamples: number): InputProblem {
  const what = `it unpacks to more than ${maxSamples} samples, the most that is held in memory`;
  return new InputProblem(file, '', what, 'cut it, or export it as WAV, which is read in parts');
}
