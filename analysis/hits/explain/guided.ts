/**
 * Hears a track that several channels share, guided by the pattern: where one channel is due alone, that strike teaches
 * how it sounds; what was learnt then explains every moment of the track. Where a pin is due a fainter likeness will do,
 * where none is no less than a clean strike: so a misplaced pin is heard, and nothing is invented.
 *
 * Strikers that have tracks of their own bleed into this one, always at about the same distance from its strikes; so
 * their sound is learnt here too, as nobody's, and taken off.
 *
 * Tried before and left: sorting all moments by sound first and telling the sounds apart by rhythm afterwards. On the
 * demo machine's first take that made 803 strikes of 8 sounds of 210 strikes of 3 channels, since every beat of a gong's
 * tail and all bleed had to be some sound.
 */
import type { Machine } from '../../machine/machine.ts';
import type { RoughRotation } from '../../rotation/rotation.ts';
import type { Run } from '../../ports.ts';
import type { Track } from '../../take/take.ts';
import type { Background } from '../signal/background.ts';
import { frameFor } from '../signal/clip.ts';
import { dueNear, nearestWithin, quietBefore, settled, strokesExpected, type Due } from '../expect/expected.ts';
import { follow, type Strike } from './follow.ts';
import { judge, type Judged } from '../select/judge.ts';
import { nobody } from '../expect/label.ts';
import { firstLessons, learnAgain, orElse, type Owned } from '../learn/lessons.ts';
import type { Heard } from '../detect/listen.ts';
import type { Prominence } from '../detect/prominence.ts';
import type { TrackStrikes } from './track.ts';
import type { SavedVoice } from '../learn/saved-voice.ts';

/** A strike may lie so far from where its channel usually is, s, but never beyond this part of a step. */
const nearS = 0.015;
const nearSteps = 0.45;
/** Of two strikes within some ms the first pass tells the louder; the other is looked for where it is due unless a moment is so near, s. */
const ownMomentS = 0.004;
/** Rounds of learning anew from strikes with all others taken off. */
const rounds = 3;
/** Strikes in a row from which a round learns, and how many rows. */
const rowLength = 48;
const rows = 4;

export interface GuidedStrikes extends TrackStrikes, Judged {
  readonly strikes: readonly Strike[];
  readonly background: Background;
  /** For each voice the channel that makes it, also where it only bleeds in. */
  readonly sources: readonly number[];
  /** The same, `nobody` for what bleeds in. */
  readonly owners: readonly number[];
}

/**
 * @param before an earlier hearing, by a rotation less well known: its voices are the first ones, and where a channel
 *   usually lies is told from its own strikes instead of all moments
 * @returns null where no channel could be learnt
 */
export async function hearGuided(
  track: Track,
  heard: Heard,
  { sure, bleed }: Prominence,
  machine: Machine,
  rotation: RoughRotation,
  before: GuidedStrikes | null,
  saved: readonly SavedVoice[],
  run: Run,
  progress: (fraction: number) => void,
): Promise<GuidedStrikes | null> {
  const frame = frameFor(track.sampleRate);
  const where = (yes: Uint8Array) => heard.at.filter((_, m) => yes[m] === 1);
  const own = where(sure);
  const bled = where(bleed);
  const [ownS, bledS] = [own, bled].map((at) => Float64Array.from(at, (s) => s / track.sampleRate));
  let due = strokesExpected(
    track,
    machine,
    rotation,
    (channel) => (before && timesOf(before, channel)) ?? (track.channels.includes(channel) ? ownS : bledS),
  );
  const reachS = Math.min(nearS, nearSteps * rotation.secondsPerStep);
  let dueAt = dueNear(due, reachS);
  const isQuiet = quietBefore(due);
  const keptVoices = new Map(
    saved.flatMap((voice) => {
      const channel = machine.description.channels.findIndex(({ id }) => id === voice.channel);
      return voice.sampleRate === track.sampleRate ? [[channel, voice] as const] : [];
    }),
  );
  const taught = before
    ? { voices: ownedIn(before), background: before.background }
    : await firstLessons(track, own, bled, due, reachS, frame, keptVoices);
  if (taught === null) return null;
  let { voices } = taught;
  const { background } = taught;
  const moments = momentsOf(track, heard, { sure, bleed }, due, reachS, voices);
  const rowsOf = chooseRows(moments);
  for (let round = before ? rounds - 1 : 0; round < rounds; round++) {
    run.signal?.throwIfAborted();
    const learnt = await learnAgain(track, rowsOf, voices, background, frame, { dueAt, isQuiet });
    voices = learnt.voices;
    const found = dueNear(learnt.strikes, reachS);
    due = settled(due, ({ channel, timeS }) => found(channel, timeS));
    dueAt = dueNear(due, reachS);
    progress((0.3 * (round + 1)) / rounds);
  }
  const channelOf = voices.map(({ channel }) => channel);
  const owners = channelOf.map((channel) => (track.channels.includes(channel) ? channel : nobody));
  // A slow sound fits nearly as well a swing before it begins: shortly before it is due nothing but itself will do.
  const soonAt = dueNear(due, 2 * reachS);
  const soon = (channel: number, timeS: number) => {
    const at = soonAt(channel, timeS);
    return at > timeS ? at : NaN;
  };
  const followed = await follow(
    track,
    moments,
    voices.map(({ voice }) => voice),
    background,
    frame,
    false,
    (m) => {
      run.signal?.throwIfAborted();
      progress(0.3 + (0.7 * m) / moments.length);
    },
    (v, timeS) => orElse(dueAt(channelOf[v], timeS), orElse(soon(channelOf[v], timeS), 'astray')),
  );
  const strikes = notTwice(
    followed.strikes,
    2 * reachS,
    ({ voice, timeS }) => !Number.isNaN(dueAt(channelOf[voice], timeS)),
  );
  const asked = due.filter(({ channel }) => track.channels.includes(channel));
  const judged = judge(strikes, channelOf, asked, dueAt, ownS, machine, rotation, reachS, before !== null);
  return {
    ...judged,
    noiseDb: heard.noisePower > 0 ? 10 * Math.log10(heard.noisePower) : -Infinity,
    clippedSamples: heard.clippedSamples,
    badSamples: heard.badSamples,
    voices: voices.map(({ voice }) => voice),
    sources: channelOf,
    owners,
    moments: heard.at,
    background,
    frame,
  };
}

/** A striker is not back in so short a time: what sounds just before a strike that is due, and is more like it, is a swing of that one. */
function notTwice(
  strikes: readonly Strike[],
  withinS: number,
  isDue: (strike: Strike) => boolean,
): readonly Strike[] {
  return strikes.filter((strike, i) => {
    if (isDue(strike)) return true;
    for (let j = i + 1; j < strikes.length && strikes[j].timeS - strike.timeS < withinS; j++)
      if (strikes[j].voice === strike.voice && strikes[j].like > strike.like && isDue(strikes[j]))
        return false;
    return true;
  });
}

function ownedIn({ voices, sources }: GuidedStrikes): Owned[] {
  return voices.map((voice, v) => ({ channel: sources[v], voice }));
}

/** When a channel struck, s, ascending; null where it was not heard. */
function timesOf({ strikes, sources }: GuidedStrikes, channel: number): Float64Array | null {
  const its = strikes.filter(({ voice }) => sources[voice] === channel);
  return its.length === 0 ? null : Float64Array.from(its, ({ timeS }) => timeS).sort();
}

/** Moments worth explaining: sure ones, bleed, and all where something is due; and where something is due and no moment was heard. */
function momentsOf(
  track: Track,
  heard: Heard,
  { sure, bleed }: Prominence,
  due: readonly Due[],
  reachS: number,
  voices: readonly Owned[],
): number[] {
  const known = new Set(voices.map(({ channel }) => channel).filter((c) => track.channels.includes(c)));
  const dueS = Float64Array.from(due, (d) => d.timeS);
  const kept = [...heard.at].filter(
    (at, m) => sure[m] === 1 || bleed[m] === 1 || nearestWithin(dueS, at / track.sampleRate, reachS) >= 0,
  );
  const keptS = Float64Array.from(kept, (at) => at / track.sampleRate);
  const unheard = due
    .filter(({ channel, timeS }) => known.has(channel) && nearestWithin(keptS, timeS, ownMomentS) < 0)
    .map(({ timeS }) => Math.round(timeS * track.sampleRate));
  return [...kept, ...unheard].sort((a, b) => a - b);
}

function chooseRows(moments: readonly number[]): number[][] {
  if (moments.length <= rows * rowLength) return [[...moments]];
  return Array.from({ length: rows }, (_, r) => {
    const from = Math.round((r * (moments.length - rowLength)) / (rows - 1));
    return moments.slice(from, from + rowLength);
  });
}
