/**
 * Audio files, opened: rate, tracks and length are known at once, samples are read where they are asked for. The WAV
 * family is read in parts by wav.ts; every other format is decoded whole by audio-decode. Nothing is ever resampled
 * or mixed.
 */
import type { SourceFile } from '../../ports.ts';
import type { Notice } from '../take.ts';
import { decodeWhole } from './decoded.ts';
import { openWav } from './wav.ts';

export interface AudioFile {
  readonly name: string;
  /** Hz */
  readonly sampleRate: number;
  readonly tracks: number;
  /** Samples in each track. */
  readonly length: number;
  readonly notices: readonly Notice[];
  /** Samples of a track, full scale ±1; outside the file they are 0. A new array every time. */
  read(track: number, from: number, to: number): Promise<Float32Array>;
}

/** @throws InputProblem with the byte where the file is no audio, or none that can be used */
export async function openAudio(file: SourceFile): Promise<AudioFile> {
  return (await openWav(file)) ?? (await decodeWhole(file));
}
