/**
 * Hearing: from a take's tracks and markers to its hits, in five stages, a folder each.
 *
 * - detect/: one sweep a track finds the moments at which something started to sound.
 * - expect/: when each channel may sound: by the pattern (by-pattern.ts), by rhythm and labels where the pattern cannot be
 *   found before (by-rhythm.ts), or nothing known.
 * - learn/: templates of what sounds there, from the moments themselves; signal/ has what they are made of.
 * - explain/: each moment as a sum of templates, each to a fraction of a sample.
 * - select/: strikes to hits: one a strike whatever the tracks, bleed taken out, and a reason kept for what is dropped.
 */
import type { Machine } from '../machine/machine.ts';
import type { Run } from '../ports.ts';
import type { Take } from '../take/take.ts';
import { withPattern, type ByItself } from './expect/by-pattern.ts';
import type { TakeContext } from './context.ts';
import { eachTrackOf } from './each-track.ts';
import type { Hearing } from './hits.ts';
import { perceivedDelays } from './instants.ts';
import { keepOnsets } from './learn/kept-onset.ts';
import { listen } from './detect/listen.ts';
import { onsetUncertainties } from './learn/onset-uncertainty.ts';
import type { Voice } from './learn/voice.ts';
import type { Frame } from './signal/clip.ts';
import { select } from './select/select.ts';
import { saveVoice, type SavedVoice } from './learn/saved-voice.ts';
import { withSwells } from './explain/swells.ts';
import { hearTrack, type TrackStrikes } from './explain/track.ts';
import { byRhythm, type Labelled } from './expect/by-rhythm.ts';

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
  const labelled = await heardOn(take, machine, run, saved);
  const { heard, labels, unknown } = labelled;
  const channels = machine.description.channels.length;
  const selected = select(labelled, take, channels);
  run.progress?.('hearing', 1);
  return {
    ...selected,
    unknown,
    perceivedS: perceivedDelays(heard, labels, channels),
    onsetSdS: onsetUncertainties(heard, labels, channels),
    tracks: heard.map(({ noiseDb, clippedSamples, badSamples, soundsStarted }) => ({
      noiseDb,
      clippedSamples,
      badSamples,
      soundsStarted,
    })),
  };
}

/** How each channel sounds, in the machine's order; channels whose voice is not good enough are left out. */
export async function voicesHeard(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<readonly SavedVoice[]> {
  return (await learnVoices(take, machine, run, saved)).saved;
}

/** Fewer strikes leave too much of what else sounded. */
const fewestToSave = 8;
/** A beginning that is known less well, s, would be sealed into every take to come; twice what a shim does is a person's to decide. */
const leastKnownS = 0.0005;

/** What a take teaches of how its machine's channels sound. */
export interface LearntVoices {
  /** In the machine's order. */
  readonly saved: readonly SavedVoice[];
  /** The channels of the take's tracks that are not among them, and why. */
  readonly unsaved: readonly { readonly channel: string; readonly why: string }[];
}

/**
 * How each channel sounds, from the track that heard it most often.
 *
 * @param saved   those saved before: where one of them begins the new one does
 */
export async function learnVoices(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[] = [],
): Promise<LearntVoices> {
  // Learnt from this take alone, but beginning where they did.
  const context = await detect(take, machine, run, []);
  const { heard, labels } = keepOnsets(await label(context), { ...context, saved });
  const kept: SavedVoice[] = [];
  const unsaved: { channel: string; why: string }[] = [];
  machine.description.channels.forEach(({ id }, channel) => {
    if (!take.tracks.some(({ channels }) => channels.includes(channel))) return;
    const own = heard.flatMap(({ voices, frame }, t) =>
      take.tracks[t].channels.includes(channel)
        ? voices.flatMap((voice, v) => (labels[t][v] === channel ? [{ voice, frame }] : []))
        : [],
    );
    own.sort((a, b) => b.voice.count - a.voice.count);
    const why = notGoodEnough(own[0]);
    if (why === null) kept.push(saveVoice(own[0].voice, own[0].frame, id, take.name));
    else unsaved.push({ channel: id, why });
  });
  return { saved: kept, unsaved };
}

/** Why a voice is not worth keeping; null where it is. */
function notGoodEnough(own: { readonly voice: Voice; readonly frame: Frame } | undefined): string | null {
  if (own === undefined) return 'it was not heard';
  const { count, envelope, onsetSd } = own.voice;
  if (count < fewestToSave) return `it was learnt from ${count} strikes, and ${fewestToSave} are needed`;
  if (envelope !== null) return 'its sound is new noise at every strike: there is no waveform to keep';
  const sdS = onsetSd / own.frame.sampleRate;
  return sdS > leastKnownS
    ? `where it begins is known to ±${(1000 * sdS).toFixed(1)} ms only: record it closer, or in less noise`
    : null;
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

async function heardOn(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[],
): Promise<Labelled> {
  const context = await detect(take, machine, run, saved);
  return keepOnsets(await label(context), context);
}

async function detect(
  take: Take,
  machine: Machine,
  run: Run,
  saved: readonly SavedVoice[],
): Promise<TakeContext> {
  const eachTrack = eachTrackOf(take, run);
  const detected = await eachTrack((track, progress) => listen(take.tracks[track], run, progress));
  return { take, machine, saved, run, eachTrack, detected };
}

/** Strikes and whose they are, each sound's beginning as this take alone tells it. */
async function label(context: TakeContext): Promise<Labelled> {
  const { take, run, detected, eachTrack } = context;
  const byItself: ByItself = onceATrack((t, progress) =>
    hearTrack(take.tracks[t], detected[t], run, progress),
  );
  const labelled =
    (await withPattern(context, byItself)) ?? (await byRhythm(context, await eachTrack(byItself)));
  return withSwells(labelled, context);
}

function onceATrack(hearing: ByItself): ByItself {
  const heard = new Map<number, Promise<TrackStrikes>>();
  return (t, progress) => {
    const found = heard.get(t) ?? hearing(t, progress);
    heard.set(t, found);
    return found;
  };
}
