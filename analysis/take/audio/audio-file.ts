/** An audio file that is open, whatever its format. */
import type { Notice } from '../take.ts';
import type { Coding } from './coding.ts';

export interface AudioFile {
  readonly name: string;
  /** Hz */
  readonly sampleRate: number;
  readonly tracks: number;
  /** Samples in each track. */
  readonly length: number;
  readonly notices: readonly Notice[];
  /** How the sound was coded before it was opened. */
  readonly coding: Coding;
  /** Samples of a track, full scale ±1; outside the file they are 0. A new array every time. */
  read(track: number, from: number, to: number): Promise<Float32Array>;
}
