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
import type { Machine } from '../machine/machine.ts';
import type { RoughRotation } from '../machine/rotation.ts';
import { median } from '../numbers/statistics.ts';
import type { Run } from '../ports.ts';
import type { Track } from '../take/take.ts';
import type { Background } from './background.ts';
import { frameFor } from './clip.ts';
import { dueNear, nearestWithin, quietBefore, settled, strokesExpected, type Due } from './expected.ts';
import { follow } from './follow.ts';
import { nobody } from './label.ts';
import { firstLessons, learnAgain, orElse, type Owned } from './lessons.ts';
import type { Heard } from './listen.ts';
import type { Prominence } from './prominent.ts';
import type { TrackStrikes } from './track.ts';
import type { SavedVoice } from './saved-voice.ts';

/** A strike may lie so far from where its channel usually is, s, but never beyond this part of a step. */
const nearS = 0.015;
const nearSteps = 0.45;
/** Where nothing is due, what is this much fainter than the channel's usual strike is what another sound has in common with it. */
const faintAstray = 0.15;
/** And where much else sounds in the room, what is 9 dB fainter. */
const faintInNoise = 0.35;
/** Where it is due a strike may be weak, but 20 dB below the usual there was none. */
const faintDue = 0.1;
/** Of two strikes within some ms the first pass tells the louder; the other is looked for where it is due unless a moment is so near, s. */
const ownMomentS = 0.004;
/**
 * Where so many sure moments, as a share of the strokes that are due, are no striker's, other things sound in the room.
 * They may have bent the rotation where less than `wellMet` of what is due was heard, or more than few strikes where
 * nothing is.
 */
const muchElse = 0.1;
const wellMet = 0.95;
const fewStrays = 0.01;
/** How long a strike sounds for moments to be its own, s. */
const soundsS = 0.02;
/** A pin comes round again to the same place, in steps. */
const samePlace = 0.25;
/** Rounds of learning anew from strikes with all others taken off. */
const rounds = 2;
/** Strikes in a row from which a round learns, and how many rows. */
const rowLength = 48;
const rows = 4;

export interface GuidedStrikes extends TrackStrikes {
  readonly background: Background;
  /** For each voice the channel that makes it, also where it only bleeds in. */
  readonly sources: readonly number[];
  /** The same, `nobody` for what bleeds in. */
  readonly owners: readonly number[];
  /** Share of what the pattern asked for on this track that was heard. */
  readonly fulfilled: number;
  /** Strokes that were asked for and not heard, and strikes that nobody asked for. */
  readonly wrong: number;
  /** Whether the rotation may be a wrong one here and there. */
  readonly isBent: boolean;
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
  const isDue = (channel: number, timeS: number) => !Number.isNaN(dueAt(channel, timeS));
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
  const { strikes } = await follow(
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
    (v, timeS) => orElse(dueAt(channelOf[v], timeS), 'astray'),
  );
  const usual = voices.map((_, v) =>
    medianGain(strikes.filter(({ voice, timeS }) => voice === v && isDue(channelOf[v], timeS))),
  );
  const likely = strikes.filter(
    ({ voice, gain, timeS }) =>
      gain >= (isDue(channelOf[voice], timeS) ? faintDue : faintAstray) * usual[voice],
  );
  const found = dueNear(
    likely.map(({ voice, timeS }) => ({ channel: channelOf[voice], timeS })),
    reachS,
  );
  const asked = due.filter(({ channel }) => track.channels.includes(channel));
  const met = asked.filter(({ channel, timeS }) => !Number.isNaN(found(channel, timeS)));
  const likelyS = Float64Array.from(likely, ({ timeS }) => timeS).sort();
  const elses = ownS.filter((timeS) => nearestWithin(likelyS, timeS, soundsS) < 0);
  const isNoisy = elses.length >= muchElse * asked.length;
  const strays = likely.filter(({ voice, timeS }) => !isDue(channelOf[voice], timeS));
  const wrong = asked.length - met.length + strays.length;
  const isBent =
    isNoisy &&
    (met.length < wellMet * asked.length || (strays.length > fewStrays * asked.length && before === null));
  // In a room where much else sounds, what is heard faintly or once where nothing is due is some of that.
  const others = strays.filter(
    (one) =>
      one.gain < faintInNoise * usual[one.voice] ||
      strays.every(
        ({ voice, timeS }) => voice !== one.voice || !isTurnsApart(one.timeS, timeS, machine, rotation),
      ),
  );
  const kept = isNoisy && !isBent ? likely.filter((one) => !others.includes(one)) : likely;
  return {
    fulfilled: met.length / Math.max(1, asked.length),
    wrong,
    isBent,
    noiseDb: heard.noisePower > 0 ? 10 * Math.log10(heard.noisePower) : -Infinity,
    clippedSamples: heard.clippedSamples,
    badSamples: heard.badSamples,
    voices: voices.map(({ voice }) => voice),
    sources: channelOf,
    owners,
    strikes: kept,
    moments: heard.at,
    background,
    frame,
  };
}

/** Whether the barrel was at the same place at both times, whole turns apart. */
function isTurnsApart(oneS: number, otherS: number, machine: Machine, rotation: RoughRotation): boolean {
  const { steps } = machine.description.barrel;
  const apart = Math.abs(rotation.positionAt(oneS) - rotation.positionAt(otherS));
  const turns = Math.round(apart / steps);
  return turns > 0 && Math.abs(apart - turns * steps) <= samePlace;
}

function ownedIn({ voices, sources }: GuidedStrikes): Owned[] {
  return voices.map((voice, v) => ({ channel: sources[v], voice }));
}

/** When a channel struck, s, ascending; null where it was not heard. */
function timesOf({ strikes, sources }: GuidedStrikes, channel: number): Float64Array | null {
  const its = strikes.filter(({ voice }) => sources[voice] === channel);
  return its.length === 0 ? null : Float64Array.from(its, ({ timeS }) => timeS).sort();
}

function medianGain(strikes: readonly { readonly gain: number }[]): number {
  return strikes.length > 0 ? median(strikes.map(({ gain }) => gain)) : 0;
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
