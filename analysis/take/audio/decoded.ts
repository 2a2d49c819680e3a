/** Every format but plain WAV: decoded whole by audio-decode, once, when the take is opened. */
import type { AudioFile } from './audio-file.ts';
import type { SourceFile } from '../../ports.ts';
import { InputProblem } from '../../input/problem.ts';
import { decodeBounded, type Decoded } from './bounded.ts';
import { codingOf } from './coding.ts';
import { cutOff } from './cut-off.ts';
import type { FormatId } from './format.ts';
import { mp4Sound } from './mp4.ts';
import { undecodable } from './undecodable.ts';

/** What a JavaScript engine can still hold as one array of bytes; longer files must be WAV, which is read in parts. */
const maxBytes = 2 ** 31 - 1;

/**
 * @param format by its bytes; null where they tell none
 * @throws InputProblem with the byte where the file cannot be decoded
 */
export async function decodeWhole(file: SourceFile, format: FormatId | null): Promise<AudioFile> {
  if (file.sizeBytes === 0) throw new InputProblem(file.name, 'byte 0', 'the file is empty', 'copy it again');
  if (file.sizeBytes > maxBytes) {
    throw new InputProblem(
      file.name,
      '',
      'the file is larger than 2 GiB',
      'export it as WAV, which is read in parts',
    );
  }
  const bytes = await file.read();
  let decoded: Decoded;
  try {
    decoded = await decodeBounded(file.name, bytes);
  } catch (error) {
    if (error instanceof InputProblem) throw error;
    if (format === 'mp4' && mp4Sound(bytes) === null) throw withoutIndex(file.name);
    const codec = codingOf(format, bytes, 0).codec;
    throw undecodable(file.name, format, codec, reason(error));
  }
  const { channelData, sampleRate } = decoded;
  const length = channelData[0]?.length ?? 0;
  if (length === 0 || !(sampleRate > 0)) {
    throw new InputProblem(file.name, 'byte 0', 'there are no samples in it', again);
  }
  const cut = cutOff(format, bytes, length, sampleRate);
  const message = `${file.name}: ${cut}`;
  return {
    name: file.name,
    sampleRate,
    tracks: channelData.length,
    length,
    notices: cut === null ? [] : [{ kind: 'header-disagrees', file: file.name, place: '', message }],
    coding: codingOf(format, bytes, length / sampleRate),
    read: (track, from, to) => Promise.resolve(part(channelData[track], from, to)),
  };
}

const again = 'export it again as WAV or FLAC, or move it out of the take';

/** Cameras and phones write the index when they stop. */
function withoutIndex(file: string): InputProblem {
  const what =
    'there is no track of sound in it, or its index ("moov") is missing: then the recording was cut off';
  return new InputProblem(file, 'byte 0', what, 'copy it again from the device, or record again');
}

/** The first line of what the decoder says, short enough to stand inside ours; its own stumbling tells nobody anything. */
function reason(error: unknown): string | undefined {
  if (error instanceof TypeError || error instanceof ReferenceError) return undefined;
  const text = error instanceof Error ? error.message : String(error);
  if (/^Unknown audio format/.test(text)) return undefined;
  return text.split('\n')[0].slice(0, 80);
}

function part(samples: Float32Array, from: number, to: number): Float32Array {
  const out = new Float32Array(Math.max(0, to - from));
  const first = Math.max(0, from);
  const last = Math.min(samples.length, to);
  if (first < last) out.set(samples.subarray(first, last), first - from);
  return out;
}
