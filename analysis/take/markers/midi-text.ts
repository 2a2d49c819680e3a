/**
 * Standard MIDI File markers (FF 06) and cue points (FF 07), placed in seconds through the file's own tempo map (the
 * Complete MIDI 1.0 Detailed Specification: 120 beats a minute until the first tempo event). Notes are no markers.
 */
import type { MidiData } from 'midi-file';
import { readMidi } from '../../input/midi.ts';
import { labelOf, refuseTooMany, wholeFile, type MarkerReader, type RawMarker } from './marker-reader.ts';

const startMicrosecondsPerBeat = 500_000;

export const midiText: MarkerReader = {
  what: 'markers and cue points of a Standard MIDI File',
  recognises: (name, head) =>
    /\.midi?$/i.test(name) || String.fromCharCode(...head.subarray(0, 4)) === 'MThd',
  async read(file) {
    const midi = readMidi(file.name, await wholeFile(file), 'export it again');
    // Format 2 holds pieces of their own, each with its own tempo; in the others all tracks share every tempo event.
    const pieces = midi.header.format === 2 ? midi.tracks.map((track) => [track]) : [midi.tracks];
    const markers = pieces.flatMap((tracks) => markersOf(tracks, midi.header));
    refuseTooMany(file.name, markers.length);
    return { markers: markers.map((marker, i) => ({ ...marker, place: `marker ${i + 1}` })), notices: [] };
  },
};

type Event = MidiData['tracks'][number][number];

function markersOf(tracks: MidiData['tracks'], header: MidiData['header']): RawMarker[] {
  const events = tracks.flatMap((track) => {
    let tick = 0;
    return track.map((event): { tick: number; event: Event } => ({ tick: (tick += event.deltaTime), event }));
  });
  // Tempo first where both stand at one tick: it holds from there.
  const isTempo = ({ event }: { event: Event }) => (event.type === 'setTempo' ? 0 : 1);
  events.sort((a, b) => a.tick - b.tick || isTempo(a) - isTempo(b));
  const markers: RawMarker[] = [];
  let microseconds = startMicrosecondsPerBeat;
  let lastTick = 0;
  let timeS = 0;
  for (const { tick, event } of events) {
    timeS += (tick - lastTick) * secondsPerTick(header, microseconds);
    lastTick = tick;
    if (event.type === 'setTempo') microseconds = event.microsecondsPerBeat;
    if (event.type === 'marker' || event.type === 'cuePoint') {
      // The library gives a character a byte; the bytes may be UTF-8.
      const label = labelOf(Uint8Array.from(event.text, (c) => c.charCodeAt(0)));
      markers.push({ timeS, endS: null, label, place: '' });
    }
  }
  return markers;
}

function secondsPerTick(header: MidiData['header'], microsecondsPerBeat: number): number {
  if (header.ticksPerBeat) return microsecondsPerBeat / 1e6 / header.ticksPerBeat;
  const { framesPerSecond = 25, ticksPerFrame = 40 } = header;
  // 29 stands for 30 drop-frame, whose frames pass at 30 / 1.001 a second.
  return 1 / ((framesPerSecond === 29 ? 30 / 1.001 : framesPerSecond) * (ticksPerFrame || 1));
}
