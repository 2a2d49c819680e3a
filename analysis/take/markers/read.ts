/** All markers of a take: each file through its reader, labels given their meaning, in the order of time. */
import type { AudioFile } from '../audio/audio-file.ts';
import { grouped } from '../../numbers/grouped.ts';
import type { Machine } from '../../machine/machine.ts';
import type { Run, SourceFile } from '../../ports.ts';
import type { Marker, MarkerFile, Notice } from '../take.ts';
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
  /** How each was read. */
  readonly readings: readonly MarkerFile[];
}

/** What markers' texts may mean. */
interface Names {
  /** Of take.jsonc: marker text → channel or `sector:ID`. */
  readonly labels: Readonly<Record<string, string>>;
  readonly machine: Machine;
}

/** @throws InputProblem where a marker file cannot be read */
export async function readMarkers(
  files: readonly SourceFile[],
  audio: readonly AudioFile[],
  { labels, machine }: Names,
  run: Run,
  readers: readonly MarkerReader[] = markerReaders,
): Promise<Found> {
  const markers: Marker[] = [];
  const notices: Notice[] = [];
  const readings: MarkerFile[] = [];
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
    if (found.markers.length > 0)
      readings.push({ file: file.name, format: found.what, count: inside.length, ...found.reading });
  }
  markers.sort((a, b) => a.timeS - b.timeS);
  const once = withoutRepeats(markers);
  const near = audio.length > 0 ? { markers: once.markers, notices: [] } : withoutStrays(once.markers);
  return {
    markers: near.markers,
    notices: [...notices, ...once.notices, ...near.notices],
    files: count,
    readings,
  };
}

/** The same label at the same time is one marker, however many files or rows have it. */
function withoutRepeats(all: readonly Marker[]): { markers: Marker[]; notices: Notice[] } {
  const seen = new Set<string>();
  const repeated: Marker[] = [];
  const markers = all.filter((marker) => {
    const key = `${marker.timeS} ${marker.meaning.kind === 'hit' ? marker.meaning.channel : marker.label}`;
    if (seen.has(key)) repeated.push(marker);
    else seen.add(key);
    return repeated[repeated.length - 1] !== marker;
  });
  const notices = [...grouped(repeated, ({ file }) => file)].map(([file, own]): Notice => {
    const many = own.length === 1 ? 'a marker stands' : `${own.length} markers stand`;
    const message = `${file}: ${own[0].place}: ${many} there a second time, at the same time with the same label; each counts once`;
    return { kind: 'repeated-marker', file, place: own[0].place, message };
  });
  return { markers, notices };
}

/** Beyond the others by so many times all that they span, and by so much, s, a last marker is no part of the take. */
const strayTimes = 5;
const strayS = 60;
/** More than that share of the markers are no strays. */
const mostStrays = 0.1;

/** Without audio nothing says where a take ends, but a slip of the pen far beyond it would be its end for all others. */
function withoutStrays(all: readonly Marker[]): { markers: Marker[]; notices: Notice[] } {
  for (let kept = all.length - 1; kept >= 2 && all.length - kept <= mostStrays * all.length; kept--) {
    const span = all[kept - 1].timeS - all[0].timeS;
    const beyond = all[kept].timeS - all[kept - 1].timeS;
    if (!(beyond > strayS && beyond > strayTimes * span)) continue;
    const notices = all.slice(kept).map(({ file, place, timeS }): Notice => {
      const message = `${file}: ${place}: the marker at ${timeS.toFixed(3)} s lies far beyond all others, which end at ${all[kept - 1].timeS.toFixed(3)} s; left out`;
      return { kind: 'marker-outside', file, place, message };
    });
    return { markers: all.slice(0, kept), notices };
  }
  return { markers: [...all], notices: [] };
}

async function firstThatReads(file: SourceFile, facts: AudioFacts | null, readers: readonly MarkerReader[]) {
  const head = await file.read(0, 64);
  for (const reader of readers) {
    const found = reader.recognises(file.name, head) ? await reader.read(file, facts) : null;
    if (found !== null) return { ...found, what: reader.what };
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
