/**
 * Hearing: from a take's tracks and markers to its hits. On each track a first sweep finds the moments at which
 * something started to sound (listen.ts); the moments teach what there is to hear (sounds.ts, voice.ts); each is then
 * explained by what was learnt, to a fraction of a sample (explain.ts, colour.ts). A channel that has a track to itself
 * is learnt from all that sounds there (learn.ts, alone.ts); where several share a track the pattern says which of them
 * sounds where (guided.ts), or, where the pattern cannot be found before, their rhythm tells them apart (whose.ts). What
 * several tracks heard of one strike becomes one hit (merge.ts), and markers name what they stand beside (markers.ts).
 */
import type { Machine } from '../machine/machine.ts';
import { findRotation, type RoughRotation } from '../machine/rotation.ts';
import type { Run } from '../ports.ts';
import type { Take, Track } from '../take/take.ts';
import { ownVoices } from './alone.ts';
import { hearGuided, type GuidedStrikes } from './guided.ts';
import type { Hearing } from './hits.ts';
import { perceivedDelays } from './instants.ts';
import { listen, type Heard } from './listen.ts';
import { nameByMarkers } from './markers.ts';
import { mergeTracks } from './merge.ts';
import { prominence, type Prominence } from './prominent.ts';
import { saveVoice, type SavedVoice } from './saved-voice.ts';
import { hearTrack, type TrackStrikes } from './track.ts';
import { whoseVoices, type Owned } from './whose.ts';

/** Share of the progress that the first sweep takes. */
const swept = 0.25;

/**
 * Hears a take.
 *
 * @param saved voices learnt from other takes of the machine
 * @returns every strike once, ascending in time; empty where nothing sounds
 * @throws the signal's reason when the run is stopped
 */
export async function hear(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<Hearing> {
  const { heard, labels, unknown } = await heardOn(take, machine, run, saved);
  const channels = machine.description.channels.length;
  const hits = nameByMarkers(mergeTracks(heard, labels, take, channels), take);
  run.progress?.('hearing', 1);
  return {
    hits,
    unknown,
    perceivedS: perceivedDelays(heard, labels, channels),
    tracks: heard.map(({ noiseDb, clippedSamples, badSamples, soundsStarted }) => ({
      noiseDb,
      clippedSamples,
      badSamples,
      soundsStarted,
    })),
  };
}

/** Fewer strikes leave too much of what else sounded. */
const fewestToSave = 8;

/**
 * How each channel sounds, from the track that heard it most often.
 *
 * @returns in the machine's order; channels heard too seldom are left out
 */
export async function voicesHeard(take: Take, machine: Machine, run: Run): Promise<SavedVoice[]> {
  const { heard, labels } = await heardOn(take, machine, run, []);
  return machine.description.channels.flatMap(({ id }, channel) => {
    const own = heard.flatMap(({ voices, frame }, t) =>
      take.tracks[t].channels.includes(channel)
        ? voices.flatMap((voice, v) => (labels[t][v] === channel ? [{ voice, frame }] : []))
        : [],
    );
    own.sort((a, b) => b.voice.count - a.voice.count);
    return own.length > 0 && own[0].voice.count >= fewestToSave
      ? [saveVoice(own[0].voice, own[0].frame, id, take.name)]
      : [];
  });
}

async function heardOn(take: Take, machine: Machine, run: Run, saved: readonly SavedVoice[]): Promise<Owned> {
  const first = await eachTrack(take, run, 0, swept, (track, progress) =>
    listen(take.tracks[track], run, progress),
  );
  const byItself: ByItself = onceATrack((t, progress) => hearTrack(take.tracks[t], first[t], run, progress));
  return (
    (await withPattern(take, machine, first, byItself, saved, run)) ??
    (await withoutPattern(take, machine, byItself, saved, run))
  );
}

/** Hears a track without the pattern; it may be asked for in several attempts. */
type ByItself = (track: number, progress: (fraction: number) => void) => Promise<TrackStrikes>;

function onceATrack(hearing: ByItself): ByItself {
  const heard = new Map<number, Promise<TrackStrikes>>();
  return (t, progress) => {
    const found = heard.get(t) ?? hearing(t, progress);
    heard.set(t, found);
    return found;
  };
}

/** Share of a track's moments that must be another track's for it to be heard with the neighbours' sounds in mind. */
const muchBleed = 0.1;
/** A moment so near one of its own pins, in steps, may be its own, struck together with a louder neighbour. */
const nearStep = 0.4;
/** Share of a track's sure moments that must lie so near its own pins: a pattern that tells of fewer is not what was played. */
const told = 0.5;

/** Of the moments marked in `chosen`, how many lie near a pin of the track's own channels, and how many do not. */
function atOwnPins(
  { channels, sampleRate }: Track,
  { at }: Heard,
  chosen: Uint8Array,
  machine: Machine,
  rotation: RoughRotation,
): { near: number; far: number } {
  const { steps } = machine.description.barrel;
  const own = new Set(
    machine.pins.flatMap(({ channel, step }) => (channels.includes(channel) ? [step] : [])),
  );
  const count = { near: 0, far: 0 };
  at.forEach((sample, m) => {
    if (chosen[m] !== 1) return;
    const position = rotation.positionAt(sample / sampleRate);
    const step = Math.round(position);
    const near = Math.abs(position - step) <= nearStep && own.has(((step % steps) + steps) % steps);
    count[near ? 'near' : 'far']++;
  });
  return count;
}

/** Where much else sounds, only moments so loud against a track's loudest are taken for strikes, until the pattern is met. */
const loudness = [0, 0.2, 0.4];
/** The pattern was met where so much of it was heard; of what has the least of it, by chance a fifth is. */
const met = 0.75;
/**
 * Where what else sounds has bent the rotation here and there, it is found anew from the strikes that were heard, whose
 * channels are known, and the tracks are heard again, so often at most.
 */
const mostAgain = 2;

interface Guided extends Owned {
  /** For each track what was heard by the pattern; null where it was heard by itself. */
  readonly guided: readonly (GuidedStrikes | null)[];
  /** Share of what the pattern asked for that was heard, on the track with most of it. */
  readonly fulfilled: number;
}

/** Where tracks hold several channels' sounds and the sure moments show how the barrel turned; null where not. */
async function withPattern(
  take: Take,
  machine: Machine,
  first: readonly Heard[],
  byItself: ByItself,
  saved: readonly SavedVoice[],
  run: Run,
): Promise<Owned | null> {
  if (take.tracks.length === 1 && take.tracks[0].channels.length === 1) return null;
  const prominent = prominence(first, take);
  const attempt = (loud: readonly Prominence[], rotation: RoughRotation, before: Guided | null) =>
    byPattern(take, machine, first, loud, rotation, before, byItself, saved, run);
  let best: Guided | null = null;
  let loud = prominent;
  for (const share of loudness) {
    const louder = prominent.map((each, t) => loudest(each, first[t], share));
    const tried = await attempt(louder, rotationOf(take, machine, momentsIn(take, first, louder)), null);
    if (tried === 'one channel a track') return null;
    if (tried && tried.fulfilled > (best?.fulfilled ?? told)) [best, loud] = [tried, louder];
    if (best && best.fulfilled >= met) break;
  }
  for (let again = 0; best?.guided.some((own) => own?.isBent) && again < mostAgain; again++) {
    const tried = await attempt(loud, rotationOf(take, machine, strikesIn(take, best)), best);
    if (tried === null || tried === 'one channel a track' || wrongIn(tried) > wrongIn(best)) break;
    best = tried;
  }
  return best;
}

function wrongIn({ guided }: Guided): number {
  return guided.reduce((sum, own) => sum + (own?.wrong ?? 0), 0);
}

/** @returns null where no rotation explains the moments, or no channel could be learnt */
async function byPattern(
  take: Take,
  machine: Machine,
  first: readonly Heard[],
  prominent: readonly Prominence[],
  rotation: RoughRotation,
  before: Guided | null,
  byItself: ByItself,
  saved: readonly SavedVoice[],
  run: Run,
): Promise<Guided | 'one channel a track' | null> {
  if (!rotation.found) return null;
  const counted = take.tracks.map((track, t) => ({
    sure: atOwnPins(track, first[t], prominent[t].sure, machine, rotation),
    bleed: atOwnPins(track, first[t], prominent[t].bleed, machine, rotation),
  }));
  if (counted.some(({ sure }) => sure.near < told * (sure.near + sure.far))) return null;
  const isMixed = take.tracks.map(
    ({ channels }, t) => channels.length > 1 || counted[t].bleed.far > muchBleed * first[t].at.length,
  );
  if (!isMixed.includes(true)) return 'one channel a track';
  const guided: (GuidedStrikes | null)[] = [];
  const heard = await eachTrack(take, run, swept, 1, async (t, progress): Promise<TrackStrikes> => {
    const track = take.tracks[t];
    const own = isMixed[t]
      ? await hearGuided(
          track,
          first[t],
          prominent[t],
          machine,
          rotation,
          before?.guided[t] ?? null,
          saved,
          run,
          progress,
        )
      : null;
    guided.push(own);
    return own ?? byItself(t, progress);
  });
  const alone = ownVoices(heard, take);
  return {
    heard,
    labels: guided.map((own, t) => own?.owners ?? alone[t]),
    unknown: [],
    guided,
    fulfilled: Math.max(...guided.map((own) => own?.fulfilled ?? 0)),
  };
}

/** The sure moments without those fainter than a share of the track's loudest tenth. */
function loudest(prominent: Prominence, { peak }: Heard, share: number): Prominence {
  if (share === 0) return prominent;
  const peaks = Float32Array.from(peak.filter((_, m) => prominent.sure[m] === 1)).sort();
  const least = share * peaks[Math.floor(0.9 * (peaks.length - 1))];
  return { ...prominent, sure: prominent.sure.map((is, m) => Number(is === 1 && peak[m] >= least)) };
}

async function withoutPattern(
  take: Take,
  machine: Machine,
  byItself: ByItself,
  saved: readonly SavedVoice[],
  run: Run,
): Promise<Owned> {
  const heard = await eachTrack(take, run, swept, 1, byItself);
  return whoseVoices(heard, take, machine, saved, run);
}

interface Moment {
  readonly timeS: number;
  /** Which it may be. */
  readonly channels: readonly number[];
}

/** The sure moments: each may be any channel of its track. */
function momentsIn(take: Take, heard: readonly Heard[], prominent: readonly Prominence[]): Moment[] {
  return heard.flatMap(({ at }, t) => {
    const { channels, sampleRate } = take.tracks[t];
    return [...at].flatMap((sample, m) =>
      prominent[t].sure[m] === 1 ? [{ timeS: sample / sampleRate, channels }] : [],
    );
  });
}

/** Strikes whose channel is known. */
function strikesIn(take: Take, { heard, labels }: Owned): Moment[] {
  return heard.flatMap(({ strikes }, t) =>
    strikes.flatMap(({ timeS, voice }) =>
      take.tracks[t].channels.includes(labels[t][voice]) ? [{ timeS, channels: [labels[t][voice]] }] : [],
    ),
  );
}

/** How the barrel turned. */
function rotationOf(take: Take, machine: Machine, moments: Moment[]): RoughRotation {
  moments.sort((a, b) => a.timeS - b.timeS);
  return findRotation(
    machine,
    { timeS: Float64Array.from(moments, (m) => m.timeS), candidates: moments.map((m) => m.channels) },
    {
      bpm: take.description.tempo ?? null,
      startStep: take.description.startStep ?? null,
      sectorStarts: take.markers.flatMap(({ timeS, meaning }) =>
        meaning.kind === 'sector' ? [{ timeS, sector: meaning.sector }] : [],
      ),
    },
  );
}

/** Does one track after the other, each with its share of the progress. */
async function eachTrack<T>(
  take: Take,
  run: Run,
  from: number,
  to: number,
  work: (track: number, progress: (fraction: number) => void) => Promise<T>,
): Promise<T[]> {
  const total = take.tracks.reduce((sum, track) => sum + track.length, 0);
  const results: T[] = [];
  let done = 0;
  for (const [t, track] of take.tracks.entries()) {
    const share = total === 0 ? 0 : ((to - from) * track.length) / total;
    const before = from + done;
    results.push(await work(t, (f) => run.progress?.('hearing', before + share * f)));
    done += share;
  }
  return results;
}
