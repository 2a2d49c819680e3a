/** Every format but plain WAV: decoded whole by audio-decode, once, when the take is opened. */
import type { SourceFile } from '../../ports.ts';
import { InputProblem } from '../../problem.ts';
import { decodeBounded, type Decoded } from './bounded.ts';
import type { AudioFile } from './open.ts';

/** What a JavaScript engine can still hold as one array of bytes; longer files must be WAV, which is read in parts. */
const maxBytes = 2 ** 31 - 1;

/** @throws InputProblem with the byte where the file cannot be decoded */
export async function decodeWhole(file: SourceFile): Promise<AudioFile> {
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
    throw new InputProblem(
      file.name,
      'byte 0',
      `this is no audio that can be read (${reason(error)})`,
      again,
    );
  }
  const { channelData, sampleRate } = decoded;
  const length = channelData[0]?.length ?? 0;
  if (length === 0 || !(sampleRate > 0)) {
    throw new InputProblem(file.name, 'byte 0', 'there are no samples in it', again);
  }
  return {
    name: file.name,
    sampleRate,
    tracks: channelData.length,
    length,
    notices: [],
    read: (track, from, to) => Promise.resolve(cut(channelData[track], from, to)),
  };
}

const again = 'export it again as WAV or FLAC, or move it out of the take';

/** The first line of what the decoder says, short enough to stand inside ours. */
function reason(error: unknown): string {
  const text = error instanceof Error ? error.message : String(error);
  return text.split('\n')[0].slice(0, 80);
}

function cut(samples: Float32Array, from: number, to: number): Float32Array {
  const out = new Float32Array(Math.max(0, to - from));
  const first = Math.max(0, from);
  const last = Math.min(samples.length, to);
  if (first < last) out.set(samples.subarray(first, last), first - from);
  return out;
}
