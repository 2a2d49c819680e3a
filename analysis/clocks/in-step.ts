/**
 * A take whose files began apart or ran by other clocks, laid side by side for the hearing. No sample is changed: a track's
 * rate is what it was by the first file's clock, and tracks are cut where the last of the files begins. What is then heard is
 * put back to the first file's clock.
 */
import type { Run } from '../ports.ts';
import type { Marker, Take, Track } from '../take/take.ts';
import type { FileClock } from '../take/clock.ts';
import { findClocks } from './find.ts';

export interface InStep {
  /** What to hear; times in it begin at `fromS`. The take itself where its files are in step. */
  readonly take: Take;
  /** By the first file's clock, s. */
  readonly fromS: number;
  /** For each track, what its own first sample is beside its true place, s: less than a sample. */
  readonly restS: readonly number[];
  /** One for each file; empty where there is one file. */
  readonly clocks: readonly FileClock[];
}

/** @throws the signal's reason when the run is stopped */
export async function inStep(take: Take, run: Run): Promise<InStep> {
  return laidBy(take, await findClocks(take.tracks, run));
}

/** The same with clocks that are known. */
export function laidBy(take: Take, clocks: readonly FileClock[]): InStep {
  const restS = take.tracks.map(() => 0);
  const apart = clocks.filter(({ startS, drift }) => startS !== 0 || drift !== 0);
  if (apart.length === 0) return { take, fromS: 0, restS, clocks };
  const fromS = Math.max(0, ...clocks.map(({ startS }) => startS));
  const clockOf = (file: string) => clocks.find((clock) => clock.file === file)!;
  const tracks = take.tracks.map((track, t) => {
    const { startS, drift } = clockOf(track.file);
    const cut = ((fromS - startS) * track.sampleRate) / (1 + drift);
    const whole = Math.round(cut);
    restS[t] = ((whole - cut) * (1 + drift)) / track.sampleRate;
    return shifted(track, whole, track.sampleRate / (1 + drift));
  });
  const markers = markersBy(take.markers, clocks, fromS).filter(({ timeS }) => timeS >= 0);
  // A step at which the recording starts is said of its first sample, which is cut off here.
  const description = fromS > 0 ? { ...take.description, startStep: undefined } : take.description;
  return { take: { ...take, description, tracks, markers }, fromS, restS, clocks };
}

function shifted(track: Track, by: number, sampleRate: number): Track {
  return {
    ...track,
    sampleRate,
    length: Math.max(0, track.length - by),
    read: (from, to) => track.read(from + by, to + by),
  };
}

/**
 * Markers by the first file's clock; those of a file, or beside one of its name, count in its time.
 *
 * @param fromS what is to be 0, s
 */
export function markersBy(markers: readonly Marker[], clocks: readonly FileClock[], fromS: number): Marker[] {
  const moved = markers.map((marker) => {
    const clock = clocks.find(({ file }) => stem(file) === stem(marker.file));
    const at = (timeS: number) => (clock?.startS ?? 0) + timeS * (1 + (clock?.drift ?? 0)) - fromS;
    return { ...marker, timeS: at(marker.timeS), endS: marker.endS === null ? null : at(marker.endS) };
  });
  return moved.sort((a, b) => a.timeS - b.timeS);
}

function stem(file: string): string {
  return file.replace(/\.[^.]*$/, '');
}
