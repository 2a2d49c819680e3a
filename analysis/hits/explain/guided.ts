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
import { momentOfStrikeS, type Strike } from './strike.ts';
import type { RoughRotation } from '../../rotation/rotation.ts';
import type { Background } from '../signal/background.ts';
import { frameFor } from '../signal/clip.ts';
import {
  dueNear,
  nearestWithin,
  nothingElseDueBefore,
  settled,
  strokesExpected,
  type ExpectedStroke,
} from '../expect/expected.ts';
import { clipWithout, followEnvelopes, type SoughtStrike } from './envelopes.ts';
import { follow } from './follow.ts';
import { judgeStrikes, type Judged } from '../select/judge.ts';
import { nobody } from '../expect/label.ts';
import { firstLessons, learnAgain, orElse, usualPeak, type ChannelVoice } from '../learn/lessons.ts';
import type { Scene, TrackContext } from '../context.ts';
import type { Tailed } from '../learn/tails.ts';
import { learnEnvelope } from '../learn/envelope.ts';
import { voiceFromEnvelope, type Voice } from '../learn/voice.ts';
import { trackHearing, type TrackStrikes } from './track.ts';

/** A strike may lie so far from where its channel usually is, s, but never beyond this part of a step. */
const nearS = 0.015;
const nearSteps = 0.45;
/**
 * Of two strikes within some ms the first pass finds only the louder one. The other is looked for at the time it is due, unless a
 * moment was found within this of that time, s.
 */
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

/** What an earlier hearing of the track by the pattern taught; null at first. */
export interface Guidance {
  readonly rotation: RoughRotation;
  /**
   * An earlier hearing, by a rotation less well known: its voices are the first ones, and where a channel usually lies is
   * told from its own strikes instead of all moments.
   */
  readonly before: GuidedStrikes | null;
}

/** @returns null where no channel could be learnt */
export async function hearGuided(
  context: TrackContext,
  { rotation, before }: Guidance,
): Promise<GuidedStrikes | null> {
  const { track, detected, machine, saved, run, progress } = context;
  const { sure, bleed } = context.prominence;
  const frame = frameFor(track.sampleRate);
  const where = (yes: Uint8Array) => detected.at.filter((_, m) => yes[m] === 1);
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
  const isQuiet = nothingElseDueBefore(due);
  const keptVoices = new Map(
    saved.flatMap((voice) => {
      const channel = machine.description.channels.findIndex(({ id }) => id === voice.channel);
      return voice.sampleRate === track.sampleRate ? [[channel, voice] as const] : [];
    }),
  );
  const taught = before
    ? { voices: ownedIn(before), background: before.background }
    : await firstLessons({ track, frame }, { sure: own, bleed: bled }, { all: due, reachS }, keptVoices);
  if (taught === null) return null;
  let { voices } = taught;
  const { background } = taught;
  const moments = momentsOf(context, due, reachS, voices);
  const rowsOf = chooseRows(moments);
  let uncut: Tailed['uncut'] | undefined;
  for (let round = before ? rounds - 1 : 0; round < rounds; round++) {
    run.signal?.throwIfAborted();
    const learnt = await learnAgain({ track, frame, background }, rowsOf, voices, {
      dueAt,
      isQuiet,
      before: uncut,
    });
    ({ voices, uncut } = learnt);
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
    { track, frame, background, voices: voices.map(({ voice }) => voice) },
    moments,
    {
      step: (m) => {
        run.signal?.throwIfAborted();
        progress(0.3 + (0.7 * m) / moments.length);
      },
      expected: (v, timeS) => orElse(dueAt(channelOf[v], timeS), orElse(soon(channelOf[v], timeS), 'astray')),
    },
  );
  const scene = { track, frame, background, voices: voices.map(({ voice }) => voice) };
  const envelopes = await envelopesAgain(scene, voices, due, followed.strikes);
  voices = voices.map((own, v) => ({ ...own, voice: envelopes[v] }));
  const unrepeated = await followEnvelopes(
    { ...scene, voices: envelopes },
    wantedOf(context, { due, reachS, voices, followed: followed.strikes }),
    followed.strikes,
  );
  const all = [...followed.strikes, ...unrepeated.kept].sort(
    (a, b) => a.timeS - b.timeS || a.voice - b.voice,
  );
  const asked = due.filter(({ channel }) => track.channels.includes(channel));
  const judged = judgeStrikes(all, {
    channelOf,
    asked,
    dueAt,
    sureS: ownS,
    machine,
    rotation,
    reachS,
    again: before !== null,
  });
  return {
    ...judged,
    ...trackHearing(detected),
    soundsStarted: undefined,
    rejected: [...followed.rejected, ...unrepeated.rejected, ...judged.rejected],
    voices: voices.map(({ voice }) => voice),
    sources: channelOf,
    owners,
    moments: detected.at,
    examined: moments,
    background,
    frame,
  };
}

/** A waveform's strike so near before or after, s, leaves some of itself in an envelope. */
const freeS = 0.04;
const lessons = 64;
const enoughLessons = 6;

/**
 * The voices, those that are envelopes learnt anew from everywhere they are due, what the waveforms explain taken off;
 * first from where no other strike is near.
 */
async function envelopesAgain(
  scene: Scene,
  voices: readonly ChannelVoice[],
  due: readonly ExpectedStroke[],
  followed: readonly Strike[],
): Promise<Voice[]> {
  const { frame, background, track } = scene;
  const followedS = Float64Array.from(followed, ({ timeS }) => timeS);
  const again: Voice[] = [];
  for (const { channel, voice } of voices) {
    if (voice.envelope === null) {
      again.push(voice);
      continue;
    }
    const all = due.filter((stroke) => stroke.channel === channel).map(({ timeS }) => timeS);
    const free = all.filter((timeS) => nearestWithin(followedS, timeS, freeS) < 0);
    const chosen = (free.length >= enoughLessons ? free : all).slice(0, lessons);
    const clips = [];
    for (const timeS of chosen)
      clips.push(await clipWithout(scene, followed, Math.round(timeS * track.sampleRate)));
    const envelope = learnEnvelope(
      clips.map(({ samples }) => samples),
      background,
      frame,
    );
    again.push(envelope === null ? voice : voiceFromEnvelope(envelope, usualPeak(clips, frame), frame));
  }
  return again;
}

/** Where nothing of it is due, a sound known by its envelope alone must be as loud as its usual strikes, but for so much. */
const leastAstray = 0.35;
const leastDue = 0.1;

/** Where voices that have but an envelope may have struck: wherever they are due, and where a sure moment is nothing else's. */
function wantedOf(
  { track, detected, prominence: { sure } }: TrackContext,
  {
    due,
    reachS,
    voices,
    followed,
  }: {
    readonly due: readonly ExpectedStroke[];
    readonly reachS: number;
    readonly voices: readonly ChannelVoice[];
    readonly followed: readonly Strike[];
  },
): SoughtStrike[] {
  const followedS = Float64Array.from(followed, ({ timeS }) => timeS);
  return voices.flatMap(({ channel, voice }, v): SoughtStrike[] => {
    if (voice.envelope === null) return [];
    const dueS = due.filter((stroke) => stroke.channel === channel).map(({ timeS }) => timeS);
    const near = Float64Array.from(dueS);
    const astray = [...detected.at]
      .filter((_, m) => sure[m] === 1)
      .map((at) => at / track.sampleRate)
      .filter(
        (timeS) =>
          nearestWithin(near, timeS, 2 * reachS) < 0 && nearestWithin(followedS, timeS, momentOfStrikeS) < 0,
      );
    return [
      ...dueS.map((timeS) => ({ voice: v, timeS, reachS, leastGain: leastDue })),
      ...astray.map((timeS) => ({ voice: v, timeS, reachS: momentOfStrikeS, leastGain: leastAstray })),
    ];
  });
}

function ownedIn({ voices, sources }: GuidedStrikes): ChannelVoice[] {
  return voices.map((voice, v) => ({ channel: sources[v], voice }));
}

/** When a channel struck, s, ascending; null where it was not heard. */
function timesOf({ strikes, sources }: GuidedStrikes, channel: number): Float64Array | null {
  const its = strikes.filter(({ voice }) => sources[voice] === channel);
  return its.length === 0 ? null : Float64Array.from(its, ({ timeS }) => timeS).sort();
}

/** Moments worth explaining: sure ones, bleed, and all where something is due; and where something is due and no moment was heard. */
function momentsOf(
  { track, detected, prominence: { sure, bleed } }: TrackContext,
  due: readonly ExpectedStroke[],
  reachS: number,
  voices: readonly ChannelVoice[],
): number[] {
  const known = new Set(voices.map(({ channel }) => channel).filter((c) => track.channels.includes(c)));
  const dueS = Float64Array.from(due, (d) => d.timeS);
  const kept = [...detected.at].filter(
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
