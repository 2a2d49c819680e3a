/**
 * Audio files, opened: rate, tracks and length are known at once, samples are read where they are asked for. The WAV
 * family (Wave64 too) and AU are read in parts by wav.ts and au.ts; every other format is decoded whole by audio-decode.
 * Nothing is ever resampled or mixed.
 */
import type { SourceFile } from '../../ports.ts';
import { openAu } from './au.ts';
import type { AudioFile } from './audio-file.ts';
import { decodeWhole } from './decoded.ts';
import { formatHeadBytes, formatOf } from './format.ts';
import { openWav } from './wav.ts';

/** @throws InputProblem with the byte where the file is no audio, or none that can be used */
export async function openAudio(file: SourceFile): Promise<AudioFile> {
  const wav = await openWav(file);
  if (wav !== null) return wav;
  const format = formatOf(await file.read(0, formatHeadBytes));
  return format === 'au' ? openAu(file) : decodeWhole(file, format);
}
