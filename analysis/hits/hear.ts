/**
 * Hearing: from a take's tracks and markers to its hits. On each track a first sweep finds the moments at which
 * something started to sound (listen.ts); the moments teach what there is to hear (sounds.ts, voice.ts); each is then
 * explained by what was learnt, to a fraction of a sample (explain.ts, colour.ts). A channel that has a track to itself
 * is learnt from all that sounds there (learn.ts, alone.ts); where several share a track the pattern says which of them
 * sounds where (by-pattern.ts, guided.ts, judge.ts), or, where the pattern cannot be found before, their rhythm tells
 * them apart (whose.ts). What several tracks heard of one strike becomes one hit (merge.ts), and markers name what they
 * stand beside (markers.ts).
 */
import type { Machine } from '../machine/machine.ts';
import type { Run } from '../ports.ts';
import type { Take } from '../take/take.ts';
import { withPattern, type ByItself } from './expect/by-pattern.ts';
import { eachTrackOf, type EachTrack } from './each-track.ts';
import type { Hearing } from './hits.ts';
import { perceivedDelays } from './instants.ts';
import { keepOnsets } from './learn/kept-onset.ts';
import { listen } from './detect/listen.ts';
import { nameByMarkers } from './select/markers.ts';
import { mergeTracks } from './select/merge.ts';
import { saveVoice, type SavedVoice } from './learn/saved-voice.ts';
import { hearTrack, type TrackStrikes } from './explain/track.ts';
import { whoseVoices, type Owned } from './expect/by-rhythm.ts';

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
 * @param saved   those saved before: where one of them begins the new one does
 * @returns in the machine's order; channels heard too seldom are left out
 */
export async function voicesHeard(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<SavedVoice[]> {
  // Learnt from this take alone, but beginning where they did.
  const { heard, labels } = keepOnsets(await ownOnsets(take, machine, run, []), take, machine, saved);
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

/** What each track holds of strikes, its neighbours' bleed included, before it is made one list; a channel or −1 for each voice. */
export async function strikesHeard(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<readonly (TrackStrikes & { readonly sources: readonly number[] })[]> {
  const { heard, labels } = await heardOn(take, machine, run, saved);
  return heard.map((track, t) => ({ ...track, sources: track.sources ?? labels[t] }));
}

async function heardOn(take: Take, machine: Machine, run: Run, saved: readonly SavedVoice[]): Promise<Owned> {
  return keepOnsets(await ownOnsets(take, machine, run, saved), take, machine, saved);
}

/** The same with each sound's beginning as this take alone tells it. */
async function ownOnsets(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[],
): Promise<Owned> {
  const eachTrack = eachTrackOf(take, run);
  const first = await eachTrack((track, progress) => listen(take.tracks[track], run, progress));
  const byItself: ByItself = onceATrack((t, progress) => hearTrack(take.tracks[t], first[t], run, progress));
  return (
    (await withPattern(take, machine, first, byItself, saved, run, eachTrack)) ??
    (await withoutPattern(take, machine, byItself, saved, run, eachTrack))
  );
}

function onceATrack(hearing: ByItself): ByItself {
  const heard = new Map<number, Promise<TrackStrikes>>();
  return (t, progress) => {
    const found = heard.get(t) ?? hearing(t, progress);
    heard.set(t, found);
    return found;
  };
}

async function withoutPattern(
  take: Take,
  machine: Machine,
  byItself: ByItself,
  saved: readonly SavedVoice[],
  run: Run,
  eachTrack: EachTrack,
): Promise<Owned> {
  const heard = await eachTrack(byItself);
  return whoseVoices(heard, take, machine, saved, run);
}
