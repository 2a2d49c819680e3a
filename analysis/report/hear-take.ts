/** A whole take as it is and as advice would have it, as two WAVE files: window by window, so that hours fit. */
import type { Run } from '../ports.ts';
import { InputProblem } from '../problem.ts';
import type { Report } from '../results.ts';
import type { Track } from '../take/take.ts';
import { movedPart, movesOf, piecesOf, reachOf, type Pieces } from './hear-before.ts';

/** Samples worked on at once. */
const windowLength = 1 << 18;
/** Both files are as loud as the louder of them allows, so that they compare. */
const loudest = 0.9;
const headerBytes = 44;
const fullScale = 32_767;

export interface Heard {
  /** WAVE files of one track, 16 bits: all tracks of the take in one. */
  readonly before: Uint8Array;
  readonly after: Uint8Array;
  /** Hits too close to the one before on their track: they moved with it. */
  readonly tied: number;
}

/**
 * @param tracks of the take, in the order of the report's
 * @param shown  the take as the person knows it, for messages
 * @throws InputProblem where there is nothing to hear, or the tracks are of different rates; the signal's reason when the run is stopped
 */
export async function beforeAndAfter(
  tracks: readonly Track[],
  report: Report,
  shown: string,
  { signal }: Run = {},
): Promise<Heard> {
  if (report.advice.settings.length === 0)
    throw new InputProblem(shown, '', 'its advice changes nothing', 'listen to the recording itself');
  if (tracks.length === 0)
    throw new InputProblem(shown, '', 'has no audio, only markers', 'record it to hear it');
  const { sampleRate } = tracks[0];
  const other = tracks.find((track) => track.sampleRate !== sampleRate);
  if (other !== undefined)
    throw new InputProblem(
      shown,
      other.file,
      `is at ${other.sampleRate} samples a second, the first track at ${sampleRate}`,
      'export all tracks at one rate',
    );
  const length = Math.max(...tracks.map((track) => track.length));
  const pieces = tracks.map((_, t) => piecesOf(movesOf(report, t)));
  let peak = 0;
  await eachWindow((_, { before, after }) => {
    for (const mix of [before, after])
      for (const value of mix) if (Math.abs(value) > peak) peak = Math.abs(value);
  });
  const gain = peak > 0 ? loudest / peak : 1;
  const files = { before: waveFile(length, sampleRate), after: waveFile(length, sampleRate) };
  await eachWindow((from, mixes) => {
    for (const name of ['before', 'after'] as const) put(files[name], from, mixes[name], gain);
  });
  return { ...files, tied: pieces.reduce((sum, { tied }) => sum + tied, 0) };

  async function eachWindow(take: (from: number, mixes: Mixes) => void): Promise<void> {
    for (let from = 0; from < length; from += windowLength) {
      signal?.throwIfAborted();
      take(from, await mixesOf(tracks, pieces, from, Math.min(length, from + windowLength)));
    }
  }
}

interface Mixes {
  readonly before: Float32Array;
  readonly after: Float32Array;
}

/** All tracks in one, as they are and moved, from one sample to another. */
async function mixesOf(
  tracks: readonly Track[],
  pieces: readonly Pieces[],
  from: number,
  to: number,
): Promise<Mixes> {
  const before = new Float32Array(to - from);
  const after = new Float32Array(to - from);
  for (const [t, track] of tracks.entries()) {
    const reach = Math.ceil(reachOf(pieces[t], track.sampleRate) * track.sampleRate);
    const first = Math.max(0, from - reach);
    const samples = await track.read(first, Math.min(track.length, to + reach));
    const moved = movedPart(pieces[t], track.sampleRate, samples, first, from, to);
    for (let i = 0; i < before.length; i++) {
      before[i] += samples[from - first + i] ?? 0;
      after[i] += moved[i];
    }
  }
  return { before, after };
}

/** A WAVE file of silence, one track of 16 bits: the 44 bytes of its header, then its samples. */
export function waveFile(length: number, sampleRate: number): Uint8Array {
  const bytes = new Uint8Array(headerBytes + 2 * length);
  const view = new DataView(bytes.buffer);
  const text = (at: number, word: string) =>
    bytes.set(
      [...word].map((c) => c.charCodeAt(0)),
      at,
    );
  text(0, 'RIFF');
  view.setUint32(4, bytes.length - 8, true);
  text(8, 'WAVEfmt ');
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, sampleRate, true);
  view.setUint32(28, 2 * sampleRate, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, 'data');
  view.setUint32(40, 2 * length, true);
  return bytes;
}

function put(file: Uint8Array, from: number, values: Float32Array, gain: number): void {
  const view = new DataView(file.buffer);
  values.forEach((value, i) =>
    view.setInt16(
      headerBytes + 2 * (from + i),
      Math.round(fullScale * Math.max(-1, Math.min(1, gain * value))),
      true,
    ),
  );
}
