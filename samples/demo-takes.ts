/** The demo machine's takes as a recorder would leave them: audio files, take.jsonc and, once, markers. */
import type { Machine } from '../analysis/machine/machine.ts';
import { usualColour } from './colour.ts';
import { playRound, type DemoRound } from './demo-truth.ts';
import type { Played } from './play.ts';
import { seededRandom } from './random.ts';
import { addRoom, record } from './record.ts';
import { bodies, strike, type Body } from './strikes.ts';
import { writeWav } from './wav.ts';

export interface DemoFile {
  /** Within the machine's folder, with forward slashes. */
  readonly path: string;
  readonly bytes: Uint8Array;
}

/** An audio file and the channels that each of its tracks hears. */
interface AudioFile {
  readonly file: string;
  readonly tracks: readonly (readonly string[])[];
}

export const sampleRate = 48_000;
const seed = 90210;

const bodyOf: Readonly<Record<string, Body>> = {
  block: bodies.woodBlock,
  slat: bodies.slat,
  drum: bodies.bassDrum,
  'rim-left': bodies.rim,
  'rim-right': bodies.rimHigh,
  'gong-low': bodies.gongLow,
  'gong-high': bodies.gongHigh,
  bell: bodies.bell,
};

/** One microphone to each family of strikers. */
const families: AudioFile[] = [
  { file: 'wood.wav', tracks: [['block', 'slat']] },
  { file: 'skins.wav', tracks: [['drum', 'rim-left', 'rim-right']] },
  { file: 'metal.wav', tracks: [['gong-low', 'gong-high', 'bell']] },
];

/** A pair of microphones, left and right of the machine. */
const pair: AudioFile[] = [
  {
    file: 'shed.wav',
    tracks: [
      ['block', 'slat', 'rim-left', 'gong-low'],
      ['drum', 'rim-right', 'gong-high', 'bell'],
    ],
  },
];

const layouts: Readonly<Record<string, { readonly audio: readonly AudioFile[]; readonly note: string }>> = {
  '1-as-built': {
    audio: families,
    note: 'First time it ran through. Left rim clapper rattles on its pivot.',
  },
  '2-first-shims': { audio: families, note: 'Joints shimmed, beater lowered, pivot bushed.' },
  '3-nearly-there': { audio: pair, note: 'Only the stereo pair was at hand.' },
};

/** Loudness of the room and of the drive's hum, full scale 1; and how much of one microphone the next one hears. */
const room = { noiseRms: 10 ** (-64 / 20), humRms: 10 ** (-70 / 20), humHz: 50 };
const bleed = { db: -24, delayS: 0.0032 };
const gainDb = 1.5;
const colour = { ...usualColour, shelfDb: 1, resonanceDb: 1 };

/** A microphone of a take: where it is written, the channels (indices) it hears, and its samples, full scale 1. */
export interface DemoTrack {
  readonly file: string;
  readonly track: number;
  readonly channels: readonly number[];
  readonly samples: Float32Array;
}

/** @param played other than as the truth has it: each strike keeps its sound by its place in the list */
export function recordRound(
  machine: Machine,
  round: DemoRound,
  played: Played = playRound(machine, round),
): DemoTrack[] {
  const { channels } = machine.description;
  const random = seededRandom(seed).split(round.name);
  const places = layouts[round.name].audio.flatMap(({ file, tracks }) =>
    tracks.map((ids, track) => ({
      file,
      track,
      channels: ids.map((id) => channels.findIndex((channel) => channel.id === id)),
    })),
  );
  const sounds = channels.map(({ id }) => [strike(bodyOf[id], sampleRate, seededRandom(seed).split(id))]);
  const tracks = places.map((place) => place.channels);
  const { strikes, durationS } = played;
  const samples = record(
    { sampleRate, durationS, strikes, sounds, tracks, gainDb, colour, bleed },
    random.split('strikes'),
  );
  samples.forEach((track, t) => addRoom(track, sampleRate, room, random.split(`room ${t}`)));
  return places.map((place, t) => ({ ...place, samples: samples[t] }));
}

/** The files of one round, in its folder under takes/. */
export function takeFiles(machine: Machine, round: DemoRound): DemoFile[] {
  const { audio, note } = layouts[round.name];
  const tracks = recordRound(machine, round);
  const wavs = audio.map(({ file }) => {
    const own = tracks.filter((track) => track.file === file).map(({ samples }) => samples);
    return { path: `takes/${round.name}/${file}`, bytes: writeWav(sampleRate, own) };
  });
  const text = (path: string, content: string) => ({
    path: `takes/${round.name}/${path}`,
    bytes: new TextEncoder().encode(content),
  });
  const files = [...wavs, text('take.jsonc', describe(round, audio, note))];
  if (round.name === '3-nearly-there')
    files.push(text('markers.txt', markers(machine, playRound(machine, round).timeAt, round)));
  return files;
}

function describe(round: DemoRound, audio: readonly AudioFile[], note: string): string {
  const tracks = audio.flatMap(({ file, tracks }) =>
    tracks.map(
      (ids, track) =>
        `    { "file": "${file}", "track": ${track}, "channels": ${JSON.stringify(ids).replaceAll(',', ', ')} }`,
    ),
  );
  const settings = Object.entries(round.settings).map(([id, setting]) => `    "${id}": ${setting}`);
  return [
    '{',
    `  "recorded": "${round.recorded}",`,
    '  "tempo": 120,',
    '  "tracks": [',
    tracks.join(',\n'),
    '  ],',
    '  // What was fitted on the day.',
    '  "settings": {',
    settings.join(',\n'),
    '  },',
    `  "note": ${JSON.stringify(note)}`,
    '}',
    '',
  ].join('\n');
}

/** Labels that somebody tapped into the recorder as each sector came round: start, end, text, a tab between; by hand, so to a tenth of a second. */
function markers(machine: Machine, timeAt: (position: number) => number, round: DemoRound): string {
  const { steps, sectors } = machine.description.barrel;
  const start = round.how.startPosition ?? 0;
  const end = start + round.how.turns * steps;
  const random = seededRandom(seed).split('markers');
  const rows: [number, string][] = [[0.8, 'drive warm, lamp off']];
  for (let turn = 0; turn * steps < end; turn++)
    for (const sector of sectors) {
      const position = turn * steps + sector.from;
      const timeS = timeAt(position) + random.between(-0.1, 0.1);
      if (position >= start && position < end) rows.push([Math.max(0, timeS), `sector:${sector.id}`]);
    }
  return rows.map(([timeS, label]) => `${timeS.toFixed(6)}\t${timeS.toFixed(6)}\t${label}\n`).join('');
}
