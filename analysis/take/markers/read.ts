/** All markers of a take: each file through its reader, labels given their meaning, in the order of time. */
import type { Machine } from '../../machine/machine.ts';
import type { Run, SourceFile } from '../../ports.ts';
import type { AudioFile } from '../audio/open.ts';
import type { Marker, Notice } from '../take.ts';
import { markerReaders } from './index.ts';
import {
  maxLabelLength,
  refuseTooMany,
  type AudioFacts,
  type MarkerReader,
  type RawMarker,
} from './marker-reader.ts';
import { meaningOf } from './meaning.ts';

/** A marker may stand at the very end of its audio, which text often rounds up to the next millisecond. */
const endToleranceS = 0.001;

interface Found {
  readonly markers: Marker[];
  readonly notices: Notice[];
  /** Files that were markers. */
  readonly files: number;
}

/** @throws InputProblem where a marker file cannot be read */
export async function readMarkers(
  files: readonly SourceFile[],
  audio: readonly AudioFile[],
  labels: Readonly<Record<string, string>>,
  machine: Machine,
  run: Run,
  readers: readonly MarkerReader[] = markerReaders,
): Promise<Found> {
  const markers: Marker[] = [];
  const notices: Notice[] = [];
  let count = 0;
  for (const file of files) {
    run.signal?.throwIfAborted();
    const facts = factsFor(file.name, audio);
    const found = await firstThatReads(file, facts, readers);
    if (found === null) {
      if (!audio.some(({ name }) => name === file.name)) notices.push(noMarkers(file.name));
      continue;
    }
    refuseTooMany(file.name, found.markers.length);
    count++;
    if (
      found.markers.length === 0 &&
      found.notices.length === 0 &&
      !audio.some(({ name }) => name === file.name)
    )
      notices.push(noMarkers(file.name));
    notices.push(...found.notices, ...outside(file.name, found.markers, facts));
    const inside = found.markers.filter((marker) => isInside(marker, facts));
    for (const marker of inside) markers.push(meant(marker, file.name, labels, machine));
  }
  return { markers: markers.sort((a, b) => a.timeS - b.timeS), notices, files: count };
}

async function firstThatReads(file: SourceFile, facts: AudioFacts | null, readers: readonly MarkerReader[]) {
  const head = await file.read(0, 64);
  for (const reader of readers) {
    const found = reader.recognises(file.name, head) ? await reader.read(file, facts) : null;
    if (found !== null) return found;
  }
  return null;
}

function noMarkers(file: string): Notice {
  return { kind: 'unused-file', file, place: '', message: `${file} is not used: no markers are found in it` };
}

/** The audio that a file's markers count in: its own, else that of the same name, else the longest. */
function factsFor(name: string, audio: readonly AudioFile[]): AudioFacts | null {
  const stem = (file: string) => file.replace(/\.[^.]*$/, '');
  const same =
    audio.find((file) => file.name === name) ?? audio.find((file) => stem(file.name) === stem(name)) ?? null;
  const facts = (file: AudioFile) => ({
    sampleRate: file.sampleRate,
    lengthS: file.length / file.sampleRate,
  });
  if (same) return facts(same);
  return audio.map(facts).reduce<AudioFacts | null>((a, b) => (a && a.lengthS >= b.lengthS ? a : b), null);
}

function isInside({ timeS }: RawMarker, facts: AudioFacts | null): boolean {
  return timeS >= 0 && timeS <= (facts?.lengthS ?? Infinity) + endToleranceS;
}

/** One notice a file, however many markers: they are wrong together. */
function outside(file: string, all: readonly RawMarker[], facts: AudioFacts | null): Notice[] {
  const stray = all.filter((marker) => !isInside(marker, facts));
  if (stray.length === 0) return [];
  const { place, timeS } = stray[0];
  const end = facts ? ` of a recording of ${facts.lengthS.toFixed(3)} s` : '';
  const others = stray.length > 1 ? `, and so do ${stray.length - 1} more of ${all.length}` : '';
  const message = `${file}: ${place}: the marker at ${timeS.toFixed(3)} s lies outside${end}${others}; left out`;
  return [{ kind: 'marker-outside', file, place, message }];
}

function meant(
  marker: RawMarker,
  file: string,
  labels: Readonly<Record<string, string>>,
  machine: Machine,
): Marker {
  // A bare list of times in a file named for a channel is that channel's, as it is with audio.
  const stem = file.replace(/\.[^.]*$/, '');
  const meaning = meaningOf(marker.label === '' ? stem : marker.label, labels, machine);
  const label =
    marker.label.length > maxLabelLength ? `${marker.label.slice(0, maxLabelLength - 1)}…` : marker.label;
  return { ...marker, label, file, meaning };
}
