/**
 * Solos: each striker struck by hand, one after another in one recording, or each in a file named for its channel. They
 * teach how each channel sounds and which microphone stands at which striker, before the machine has ever played.
 */
import { inStep } from '../../clocks/in-step.ts';
import { InputProblem } from '../../input/problem.ts';
import type { Machine } from '../../machine/machine.ts';
import { grouped } from '../../numbers/grouped.ts';
import type { Run } from '../../ports.ts';
import type { Take, Track } from '../../take/take.ts';
import { minutesAndSeconds } from '../../words/minutes.ts';
import { listen } from '../detect/listen.ts';
import { learnVoices, type LearntVoices } from '../hear.ts';
import type { SavedVoice } from '../learn/saved-voice.ts';
import { nearestTracks } from './nearest-track.ts';
import { fewestStrikes, pauseS, soloStretches, type Stretch, type SweptTrack } from './stretches.ts';

/** In an order of strikers: what is struck there is none of them. */
export const nobodyStruck = '-';

export interface Solo {
  readonly channel: string;
  /** The file, and where in it. */
  readonly file: string;
  readonly stretch: Stretch;
  /** Tracks whose microphones may be its own, best first: one where it is clear. */
  readonly tracks: readonly number[];
}

export interface Solos {
  readonly solos: readonly Solo[];
  /** What `Solo.tracks` counts; of solos in files of their own the numbers alone mean something. */
  readonly tracks: readonly { readonly file: string; readonly track: number }[];
  /** Tracks that ran into full scale, and in how many samples. */
  readonly clipped: readonly { readonly file: string; readonly track: number; readonly samples: number }[];
  readonly learnt: LearntVoices;
}

/** A striker's solo, and the tracks that heard it. */
interface Part {
  readonly channel: string;
  readonly stretch: Stretch;
  readonly tracks: readonly Track[];
  readonly swept: readonly SweptTrack[];
}

/**
 * @param take  the recording; what take.jsonc says of its tracks is no matter here
 * @param order channels in the order in which they are struck, `nobodyStruck` for what is none of theirs; null: the machine's
 *              order, or where every file is named for a channel, a file each
 * @param saved voices saved before: where one of them begins the new one does
 * @throws InputProblem where the recording does not hold as many solos as are named; the signal's reason when stopped
 */
export async function hearSolos(
  take: Take,
  machine: Machine,
  order: readonly string[] | null,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<Solos> {
  if (take.tracks.length === 0) throw new InputProblem(take.name, '', 'holds no sound', 'name a recording');
  const isByFile =
    order === null && take.tracks.every(({ assigned, channels }) => assigned && channels.length === 1);
  const ids = machine.description.channels.map(({ id }) => id);
  const parts = isByFile ? await aFileEach(take, ids, run) : await oneAfterAnother(take, order ?? ids, run);
  const nearest = nearestTracks(parts.map(({ stretch }) => stretch));
  const solos = parts.map(({ channel, stretch, tracks }, i): Solo => ({
    channel,
    file: tracks[0].file,
    stretch,
    tracks: nearest[i],
  }));
  const learnt: LearntVoices[] = [];
  for (const [i, part] of parts.entries()) {
    const { overNoiseDb } = part.stretch;
    const clearest = nearest[i][0] ?? overNoiseDb.indexOf(Math.max(...overNoiseDb));
    const own = asTake(take.name, part.tracks[clearest], part.stretch, ids.indexOf(part.channel));
    learnt.push(await learnVoices(own, machine, run, saved));
    run.progress?.('hearing', 0.5 + (i + 1) / (2 * parts.length));
  }
  return {
    solos,
    tracks: parts[0].tracks.map(({ file, track }) => ({ file, track })),
    clipped: clippedIn(parts),
    learnt: {
      saved: learnt.flatMap((one) => one.saved),
      unsaved: learnt.flatMap((one) => one.unsaved),
    },
  };
}

function clippedIn(parts: readonly Part[]): Solos['clipped'] {
  const seen = new Map<Track, number>();
  for (const { tracks, swept } of parts)
    tracks.forEach((track, t) => seen.set(track, swept[t].detected.clippedSamples));
  return Array.from(seen, ([{ file, track }, samples]) => ({ file, track, samples })).filter(
    ({ samples }) => samples > 0,
  );
}

async function oneAfterAnother(take: Take, order: readonly string[], run: Run): Promise<Part[]> {
  const { tracks } = (await inStep(take, run)).take;
  const heard = await sweep(tracks, run);
  const stretches = soloStretches(heard, durationOf(tracks));
  if (stretches.length !== order.length) throw otherNumber(take.name, stretches, order);
  return order.flatMap((channel, i) =>
    channel === nobodyStruck ? [] : [{ channel, stretch: stretches[i], tracks, swept: heard }],
  );
}

async function aFileEach({ tracks }: Take, ids: readonly string[], run: Run): Promise<Part[]> {
  const parts: Part[] = [];
  for (const [file, own] of grouped(tracks, (track) => track.file)) {
    const heard = await sweep(own, run);
    const [stretch] = soloStretches(heard, durationOf(own), Infinity);
    if (stretch === undefined)
      throw new InputProblem(
        file,
        '',
        `no striker is struck ${fewestStrikes} times in it`,
        'record ten strikes, a second apart',
      );
    parts.push({ channel: ids[own[0].channels[0]], stretch, tracks: own, swept: heard });
  }
  const [first] = parts;
  const other = parts.find((part) => part.tracks.length !== first.tracks.length);
  if (other !== undefined)
    throw new InputProblem(
      other.tracks[0].file,
      '',
      `has ${other.tracks.length} tracks, and ${first.tracks[0].file} has ${first.tracks.length}`,
      'record every solo with the same microphones, or give the files in two goes',
    );
  return parts;
}

async function sweep(tracks: readonly Track[], run: Run): Promise<SweptTrack[]> {
  const out: SweptTrack[] = [];
  for (const [t, track] of tracks.entries()) {
    const progress = (part: number) => run.progress?.('hearing', (t + part) / (2 * tracks.length));
    out.push({ sampleRate: track.sampleRate, detected: await listen(track, run, progress) });
  }
  return out;
}

const durationOf = (tracks: readonly Track[]) =>
  Math.max(...tracks.map(({ length, sampleRate }) => length / sampleRate));

/** The stretch of one track as a take of its own, on which that channel alone sounds. */
function asTake(name: string, track: Track, stretch: Stretch, channel: number): Take {
  const from = Math.round(stretch.fromS * track.sampleRate);
  const to = Math.min(track.length, Math.round(stretch.toS * track.sampleRate));
  const own: Track = {
    ...track,
    length: Math.max(0, to - from),
    channels: [channel],
    assigned: true,
    read: (first, last) => track.read(from + first, from + last),
  };
  return { name, description: {}, recorded: null, settings: {}, tracks: [own], markers: [], notices: [] };
}

function otherNumber(name: string, stretches: readonly Stretch[], order: readonly string[]): InputProblem {
  const places = stretches
    .map(({ firstS, strikes }) => `${minutesAndSeconds(firstS)} (${strikes} strikes)`)
    .join(', ');
  const heard =
    stretches.length === 0
      ? `no striker is struck by itself ${fewestStrikes} times`
      : `${stretches.length} ${stretches.length === 1 ? 'striker is' : 'strikers are'} struck one after another, from ${places}`;
  return new InputProblem(
    name,
    '',
    `${heard}; ${order.length} were named: ${order.join(', ')}`,
    `name them in the order in which they are struck, "${nobodyStruck}" for what is none of them; between two ${pauseS} s of silence`,
  );
}
