/** A whole take as it is and as advice would have it, as two WAVE files: window by window, so that hours fit. */
import type { SavedVoice } from '../hits/learn/saved-voice.ts';
import type { Machine } from '../machine/machine.ts';
import type { Run } from '../ports.ts';
import { InputProblem } from '../input/problem.ts';
import type { Report } from '../results/results.ts';
import type { Take, Track } from '../take/take.ts';
import { movedPart, movesOf, piecesOf, reachOf, type CutPieces } from './hear-before.ts';
import { addSounds, ownSounds, type OwnSound } from './hear-sounds.ts';

/** Samples worked on at once. */
const windowLength = 1 << 18;
/** Both files are as loud as the louder of them allows, so that they compare. */
const loudest = 0.9;
const headerBytes = 44;
const fullScale = 32_767;

export interface RenderedTake {
  /** WAVE files of one track, 16 bits: all tracks of the take in one. */
  readonly before: Uint8Array;
  readonly after: Uint8Array;
  /** Hits too close to the one before on their track whose own sound is not known: they moved with it. */
  readonly tied: number;
}

/**
 * @param shown the take as the person knows it, for messages
 * @param saved voices learnt from other takes of the machine, as they were for the report
 * @throws InputProblem where there is nothing to hear, or the tracks are of different rates; the signal's reason when the run is stopped
 */
export async function hearBefore(
  take: Take,
  machine: Machine,
  report: Report,
  shown: string,
  { saved = [], ...run }: Run & { readonly saved?: readonly SavedVoice[] } = {},
): Promise<RenderedTake> {
  refuse(take.tracks, report, shown);
  return beforeAndAfter(take.tracks, report, await ownSounds(take, machine, report, run, saved), run);
}

function refuse(tracks: readonly Track[], report: Report, shown: string): void {
  if (report.advice.settings.length === 0)
    throw new InputProblem(shown, '', 'its advice changes nothing', 'listen to the recording itself');
  if (tracks.length === 0)
    throw new InputProblem(shown, '', 'has no audio, only markers', 'record it to hear it');
  const late = report.files?.find(
    ({ how, startS, clockPpm }) => how === 'found' && (startS !== 0 || clockPpm !== 0),
  );
  if (late !== undefined)
    throw new InputProblem(
      shown,
      late.file,
      `began ${late.startS.toFixed(3)} s from ${report.files![0].file} on a clock of its own`,
      'a take of one recorder can be heard before its change',
    );
  const other = tracks.find((track) => track.sampleRate !== tracks[0].sampleRate);
  if (other !== undefined)
    throw new InputProblem(
      shown,
      other.file,
      `is at ${other.sampleRate} samples a second, the first track at ${tracks[0].sampleRate}`,
      'export all tracks at one rate',
    );
}

/**
 * @param tracks of the take, in the order of the report's; at least one, all of one rate
 * @param sounds beside the tracks: what is known of their strikes' own sounds; the rest is cut
 */
export async function beforeAndAfter(
  tracks: readonly Track[],
  report: Report,
  sounds: readonly (readonly OwnSound[])[],
  { signal }: Run = {},
): Promise<RenderedTake> {
  const [{ sampleRate }] = tracks;
  const parts = tracks.map((track, t) => partOf(track, t, report, sounds[t]));
  const length = Math.max(...tracks.map((track) => track.length));
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
  return { ...files, tied: parts.reduce((sum, { pieces }) => sum + pieces.tied, 0) };

  async function eachWindow(take: (from: number, mixes: Mixes) => void): Promise<void> {
    for (let from = 0; from < length; from += windowLength) {
      signal?.throwIfAborted();
      take(from, await mixesOf(parts, from, Math.min(length, from + windowLength)));
    }
  }
}

interface Mixes {
  readonly before: Float32Array;
  readonly after: Float32Array;
}

/** A track, how it is cut, and what is moved whole. */
interface Part {
  readonly track: Track;
  readonly pieces: CutPieces;
  readonly sounds: readonly OwnSound[];
}

/** @param t index of the track in the report */
export function partOf(track: Track, t: number, report: Report, sounds: readonly OwnSound[] = []): Part {
  return { track, sounds, pieces: piecesOf(movesOf(report, t)) };
}

/** All tracks in one, as they are and moved, from one sample to another. */
async function mixesOf(parts: readonly Part[], from: number, to: number): Promise<Mixes> {
  const before = new Float32Array(to - from);
  const after = new Float32Array(to - from);
  for (const part of parts) {
    const { asIs, moved } = await movedStretch(part, from, to);
    for (let i = 0; i < before.length; i++) {
      before[i] += asIs[i];
      after[i] += moved[i];
    }
  }
  return { before, after };
}

/** Samples `from` to `to` of a track, 0 beyond its end: as they are, and with each strike where it is sent. */
export async function movedStretch({ track, pieces, sounds }: Part, from: number, to: number) {
  const { sampleRate } = track;
  const reach = Math.ceil(reachOf(pieces, sampleRate) * sampleRate);
  const first = Math.max(0, from - reach);
  const samples = await track.read(first, Math.min(track.length, to + reach));
  const asIs = new Float32Array(to - from);
  asIs.set(samples.subarray(from - first, to - first));
  const rest = Float64Array.from(samples);
  addSounds(rest, first, sounds, -1, false);
  const cut = movedPart(pieces, sampleRate, Float32Array.from(rest), first, [from, to]);
  const moved = Float64Array.from(cut);
  addSounds(moved, from, sounds, 1, true);
  return { asIs, moved: Float32Array.from(moved) };
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
