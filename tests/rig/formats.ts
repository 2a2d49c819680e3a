/** One take in many formats: what each does to the means, against the WAV that outside programs made it from. */
import type { Group } from '../../analysis/results/results.ts';
import { withCodingDoubts } from '../../analysis/hits/coding-error.ts';
import { hearInStep } from '../../analysis/hits/hear-in-step.ts';
import { withClocks } from '../../analysis/strokes/clock-error.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { openAudio } from '../../analysis/take/audio/open.ts';
import { readTake } from '../../analysis/take/read.ts';
import { usualColour } from '../../samples/colour.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { writeWav } from '../../samples/wav.ts';
import { memoryFile } from '../take/files.ts';
import { run, type Need, type Tool } from '../take/tools.ts';
import { rigMachine } from './machine.ts';
import { recordings } from './recordings.ts';
import { makeTake, takeOf, trackOf } from './take.ts';

export interface Format {
  readonly file: string;
  /** As the guide's table names it. */
  readonly name: string;
  readonly needs: readonly Need[];
  /** Makes the file of in.wav. */
  readonly command: readonly [Tool, ...string[]];
}

function byFfmpeg(file: string, name: string, coder: string, ...args: string[]): Format {
  const command = ['ffmpeg', '-v', 'error', '-i', 'in.wav', '-c:a', coder, ...args, file] as const;
  return { file, name, needs: [`ffmpeg with ${coder}`], command: [...command] };
}

function bySox(file: string, name: string): Format {
  return { file, name, needs: ['sox'], command: ['sox', 'in.wav', file] };
}

/** Formats in which no sample changes. */
export const lossless: readonly Format[] = [
  { file: 'a.flac', name: 'FLAC', needs: ['flac'], command: ['flac', '--silent', '-o', 'a.flac', 'in.wav'] },
  bySox('a.aiff', 'AIFF'),
  bySox('a.w64', 'Wave64'),
  bySox('a.au', 'AU'),
  byFfmpeg('a.caf', 'CAF, PCM', 'pcm_s16le'),
  byFfmpeg('a.mov', 'MP4 (mov), PCM', 'pcm_s16le'),
  byFfmpeg('a.m4a', 'MP4 (m4a), ALAC', 'alac'),
  byFfmpeg('a.mka', 'Matroska (mka), PCM', 'pcm_s16le'),
  byFfmpeg('a.wv', 'WavPack', 'wavpack'),
  byFfmpeg('a.tta', 'TTA', 'tta'),
];

/** Formats that throw sound away; rates are of the file's two tracks together. */
export const lossy: readonly Format[] = [
  byFfmpeg('a.m4a', 'MP4 (m4a), AAC, 256 kbit/s', 'aac', '-b:a', '256k'),
  byFfmpeg('a.3gp', 'MP4 (3gp), AAC, 128 kbit/s', 'aac', '-b:a', '128k'),
  byFfmpeg('a.mp3', 'MP3, 256 kbit/s', 'libmp3lame', '-b:a', '256k'),
  byFfmpeg('a.mp3', 'MP3, 128 kbit/s', 'libmp3lame', '-b:a', '128k'),
  byFfmpeg('a.mp2', 'MP2, 256 kbit/s', 'mp2', '-b:a', '256k'),
  byFfmpeg('a.opus', 'Ogg (opus), Opus, 256 kbit/s', 'libopus', '-b:a', '256k'),
  byFfmpeg('a.webm', 'Matroska (webm), Opus, 64 kbit/s', 'libopus', '-b:a', '64k'),
  {
    file: 'a.ogg',
    name: 'Ogg, Vorbis, 80 kbit/s',
    needs: ['oggenc'],
    command: ['oggenc', '--quiet', '-q', '1', '-o', 'a.ogg', 'in.wav'],
  },
  byFfmpeg('a.ac3', 'AC-3, 448 kbit/s', 'ac3', '-b:a', '448k'),
  byFfmpeg('a.wma', 'ASF (wma), WMA, 192 kbit/s', 'wmav2', '-b:a', '192k'),
];

/** Formats that are known and not decoded. */
export const refused: readonly Format[] = [
  byFfmpeg('a.voc', 'VOC', 'pcm_s16le'),
  byFfmpeg('a.flv', 'FLV', 'aac'),
  byFfmpeg('a.ts', 'MPEG transport stream', 'aac'),
  byFfmpeg('alac.caf', 'CAF, ALAC', 'alac'),
  byFfmpeg('mp3.wav', 'WAV, MP3', 'libmp3lame'),
];

const sampleRate = 48_000;
/** Two strikers, a track each. */
const channels = ['reference', 'one'];
const machine = rigMachine({ channels, steps: 32, sectors: 2, density: 0.3, seed: 3 });

/** Two turns, 6 s: real strikes at known times, 40 dB over noise. */
export function wavOfTake(seed = 1): Uint8Array {
  const random = seededRandom(seed);
  const sounds = random.shuffle(recordings(sampleRate)).slice(0, channels.length);
  const { strikes, durationS } = play(
    machine,
    { channelMs: { one: 2 }, repeatabilityMs: { reference: 0.2, one: 0.2 } },
    { bpm: 168, turns: 2 },
    random,
  );
  const { samples } = makeTake(machine, {
    sampleRate,
    durationS: durationS + 0.5,
    strikes,
    sounds: sounds.map((sound) => [sound]),
    tracks: [[0], [1]],
    snrDb: 40,
    gainDb: 3,
    colour: usualColour,
    seed,
  });
  return writeWav(
    sampleRate,
    samples.map((track) => track.slice()),
  );
}

export function encodedAs({ command, file }: Format, wav: Uint8Array): Uint8Array {
  return run(command, { 'in.wav': wav }, file);
}

/** Every sample of every track, as the tool opens the file. */
export async function samplesOf(file: string, bytes: Uint8Array): Promise<Float32Array[]> {
  const audio = await openAudio(memoryFile(file, bytes));
  return Promise.all(Array.from({ length: audio.tracks }, (_, track) => audio.read(track, 0, audio.length)));
}

/**
 * The second channel's means by sector, as a report has them.
 *
 * @param files name → bytes; where there are two, the reference is on the first one's first track, and the other on the
 *   last one's last
 */
export async function meansOf(files: Readonly<Record<string, Uint8Array>>): Promise<Group[]> {
  const names = Object.keys(files);
  const tracks = channels.map((id, i) => {
    const file = names[Math.min(i, names.length - 1)];
    return { file, track: names.length === 1 ? i : 0, channels: [id] };
  });
  const description = memoryFile('take.jsonc', JSON.stringify({ tracks }));
  const sources = names.map((name) => memoryFile(name, files[name]));
  const read = await readTake('take', [...sources, description], machine, {}, {});
  const { take, hearing } = await hearInStep(read, machine, {});
  const strokes = layOnBarrel(hearing, machine, take);
  const clocked = withClocks(summariseGroups(strokes, machine), strokes, machine, take);
  return withCodingDoubts(clocked, strokes.hits, machine, take).filter(
    ({ channel, sector }) => channel === channels[1] && sector !== null,
  );
}

/** What the file's coding alone makes of means that were heard without it. */
export async function codedAs(groups: readonly Group[], file: string, bytes: Uint8Array): Promise<Group[]> {
  const { coding } = await openAudio(memoryFile(file, bytes));
  const tracks = channels.map((_, i) => ({
    ...trackOf(new Float32Array(1), sampleRate, [i], file),
    coding,
  }));
  const hits = { count: 2, channel: Int32Array.of(0, 1), track: Int32Array.of(0, 1) };
  return withCodingDoubts(groups, hits, machine, takeOf(machine, tracks));
}

/** Furthest that a group's mean lies from what it is in the other, ms; NaN where one has no mean. */
export function worstMs(one: readonly Group[], other: readonly Group[]): number {
  return Math.max(
    ...one.map(({ sector, meanMs }) => {
      const same = other.find((group) => group.sector === sector);
      return Math.abs((meanMs ?? NaN) - (same?.meanMs ?? NaN));
    }),
  );
}

/** What is said of the means, as the guide's table has it. */
export function saidOf(groups: readonly Group[]): string {
  return groups.every(({ ci95Ms }) => ci95Ms === null)
    ? 'a doubt, no interval'
    : 'intervals wider by the codec’s part';
}
