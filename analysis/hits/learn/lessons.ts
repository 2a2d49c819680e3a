/**
 * How channels sound on a track, learnt where the pattern says so: first from strikes at which one is due alone, then
 * anew from all of them with everything else taken off.
 */
import { evenlyFrom } from '../../numbers/evenly.ts';
import { median } from '../../numbers/statistics.ts';
import type { Track } from '../../take/take.ts';
import { backgroundOf, type Background } from '../signal/background.ts';
import { readClip, type Frame, type RawClip } from '../signal/clip.ts';
import { nearestWithin, nothingElseDueBefore, type ExpectedStroke } from '../expect/expected.ts';
import type { Expectation } from '../explain/explain.ts';
import type { Scene } from '../context.ts';
import { follow } from '../explain/follow.ts';
import { voiceFrom, type SavedVoice } from './saved-voice.ts';
import { joinAlike, polish, sortBySound, weigh, type Weighed } from './sounds.ts';
import { solveTails, type Tailed } from './tails.ts';
import { learnEnvelope } from './envelope.ts';
import { voiceFromEnvelope, voiceOf, type Struck, type Voice } from './voice.ts';

/** A stroke teaches where nothing else is due so long before and after it, s: what a clip reaches over, then half of that. */
const alone = [
  { beforeS: 0.03, afterS: 0.07 },
  { beforeS: 0.03, afterS: 0.03 },
  { beforeS: 0.03, afterS: 0.012 },
  { beforeS: 0.015, afterS: 0.03 },
  { beforeS: 0.008, afterS: 0.012 },
] as const;
/** Strikes from which a channel is learnt: enough for an average 18 dB above its strikes. */
const lessons = 64;
/** Fewer lone strikes than this, and less lonely ones are taken too. */
const enough = 8;
/** On a track of its own a channel may sound in several ways (another force, another spot), each this share of its lessons at least: less is a strike or two that something else spoilt. */
const ownSound = 0.12;
const fewestLessons = 3;
const mostSounds = 8;
/** Where fewer of a channel's lone strikes than this share are alike as waveforms, its waveform does not repeat: each is new noise. */
export const repeats = 0.4;
/** Share of a neighbour's strokes that must be heard as bleed for it to sound on this track. */
const bleedsIn = 0.5;

/** A voice and the channel that makes it. */
export interface ChannelVoice {
  readonly channel: number;
  readonly voice: Voice;
  /** Saved from another take: here it never strikes alone, and nothing better can be learnt. */
  readonly saved?: true;
}

/** Voices from the strikes at which a channel is due alone; where there are too few, as saved from another take. */
export async function firstLessons(
  { track, frame }: Pick<Scene, 'track' | 'frame'>,
  { sure, bleed }: { readonly sure: Int32Array; readonly bleed: Int32Array },
  { all, reachS }: { readonly all: readonly ExpectedStroke[]; readonly reachS: number },
  saved: ReadonlyMap<number, SavedVoice>,
): Promise<{ voices: ChannelVoice[]; background: Background } | null> {
  const here = soundingHere(track, bleed, all, reachS);
  const due = all.filter(({ channel }) => here.has(channel));
  const dueS = Float64Array.from(due, (d) => d.timeS);
  // Faint bleed hides no strike, but it would be taken for the beginning of one.
  const quiet = nothingElseDueBefore(all);
  const lonely = (i: number, { beforeS, afterS }: (typeof alone)[number]) =>
    (i === 0 || dueS[i] - dueS[i - 1] > beforeS) && (i + 1 === dueS.length || dueS[i + 1] - dueS[i] > afterS);
  const chosen: { channel: number; moments: number[] }[] = [];
  for (const channel of here) {
    const heardAt = track.channels.includes(channel) ? sure : bleed;
    const heardS = Float64Array.from(heardAt, (at) => at / track.sampleRate);
    let moments: number[] = [];
    for (const loneliness of alone) {
      moments = [];
      for (let i = 0; i < due.length; i++) {
        if (due[i].channel !== channel || !lonely(i, loneliness)) continue;
        const m = nearestWithin(heardS, dueS[i], reachS);
        if (m >= 0) moments.push(heardAt[m]);
      }
      if (moments.length >= enough) break;
    }
    if (moments.length > 0 && !(moments.length < fewestLessons && saved.has(channel)))
      chosen.push({ channel, moments: evenlyFrom([...new Set(moments)], lessons) });
  }
  const taught = new Set(chosen.map(({ channel }) => channel));
  const recalled = [...saved].filter(
    ([channel]) =>
      track.channels.includes(channel) && !taught.has(channel) && due.some((d) => d.channel === channel),
  );
  // Where none of its own channels is ever alone here, the track is heard without the pattern.
  const learnt = (channel: number) => taught.has(channel) || recalled.some(([one]) => one === channel);
  if (!track.channels.some(learnt)) return null;
  const clipsOf = [];
  for (const { channel, moments } of chosen) {
    const clips = [];
    for (const at of moments) clips.push(await readClip(track, at, frame));
    clipsOf.push({ channel, clips });
  }
  const heardClips = clipsOf.flatMap(({ clips }) => clips);
  if (chosen.length === 0)
    for (const at of evenlyFrom([...sure], lessons)) heardClips.push(await readClip(track, at, frame));
  const background = backgroundOf(
    heardClips.sort((a, b) => a.from - b.from),
    frame,
  );
  const voices = clipsOf.flatMap(({ channel, clips }) => {
    const weighed = clips.map((clip) => ({
      ...weigh(clip, background, frame),
      leadIsQuiet: quiet(channel, (clip.from + frame.pre) / track.sampleRate),
    }));
    const sounds = joinAlike(sortBySound(weighed, background, frame), weighed, background, frame);
    const largest = Math.max(...sounds.map(({ members }) => members.length));
    if (track.channels.includes(channel) && largest < repeats * clips.length) {
      const envelope = learnEnvelope(
        clips.map(({ samples }) => samples),
        background,
        frame,
      );
      if (envelope !== null)
        return [{ channel, voice: voiceFromEnvelope(envelope, usualPeak(clips, frame), frame) }];
    }
    // On a track of its own a channel may sound in many ways; on a shared one a second way was mostly another's sound in it.
    const most = track.channels.length === 1 ? mostSounds : 1;
    return sounds
      .filter(
        ({ members }) =>
          members.length === largest || members.length >= Math.max(fewestLessons, ownSound * clips.length),
      )
      .slice(0, most)
      .map((sound): ChannelVoice => ({ channel, voice: voiceOf(sound, weighed, background, frame) }));
  });
  const kept = recalled.map(([channel, voice]): ChannelVoice => ({
    channel,
    voice: voiceFrom(voice, background, frame),
    saved: true,
  }));
  return { voices: [...voices, ...kept], background };
}

/** Median peak of strikes about the frame's moment, full scale 1. */
export function usualPeak(clips: readonly RawClip[], frame: Frame): number {
  return median(
    clips.map(({ samples }) =>
      samples
        .subarray(frame.pre - frame.reach, frame.pre + 4 * frame.reach)
        .reduce((top, x) => Math.max(top, Math.abs(x)), 0),
    ),
  );
}

/** Channels that sound on the track: its own, and of the others those that bleed in. */
function soundingHere(
  track: Track,
  bleed: Int32Array,
  due: readonly ExpectedStroke[],
  reachS: number,
): Set<number> {
  const bleedS = Float64Array.from(bleed, (at) => at / track.sampleRate);
  const isBleed = ({ timeS }: ExpectedStroke) => nearestWithin(bleedS, timeS, reachS) >= 0;
  return new Set(
    [...new Set(due.map((d) => d.channel))].filter((channel) => {
      const its = due.filter((d) => d.channel === channel);
      return track.channels.includes(channel) || its.filter(isBleed).length >= bleedsIn * its.length;
    }),
  );
}

/** Learns each voice anew from strikes with all others taken off, then its tail. */
export async function learnAgain(
  { track, frame, background }: Omit<Scene, 'voices'>,
  rowsOf: readonly (readonly number[])[],
  voices: readonly ChannelVoice[],
  {
    dueAt,
    isQuiet,
    before,
  }: {
    dueAt: (channel: number, timeS: number) => number;
    isQuiet: (channel: number, timeS: number) => boolean;
    /** Uncut tails of the round before, for the same voices. */
    before?: Tailed['uncut'];
  },
): Promise<{
  voices: ChannelVoice[];
  strikes: { channel: number; timeS: number }[];
  uncut: Tailed['uncut'];
}> {
  const weighed: Weighed[] = [];
  const strikes: { channel: number; timeS: number }[] = [];
  const rowOf: number[] = [];
  const members: number[][] = voices.map(() => []);
  for (const [r, moments] of rowsOf.entries()) {
    const { rests } = await follow(
      { track, frame, background, voices: voices.map(({ voice }) => voice) },
      moments,
      {
        keep: true,
        // What sounds where it is not due teaches nothing: it may be another's.
        expected: (v, timeS) => orElse(dueAt(voices[v].channel, timeS), 'never'),
      },
    );
    for (const { voice, timeS, rest } of rests) {
      if (Number.isNaN(dueAt(voices[voice].channel, timeS))) continue;
      strikes.push({ channel: voices[voice].channel, timeS });
      const clip = { ...rest, leadIsQuiet: isQuiet(voices[voice].channel, timeS) };
      members[voice].push(weighed.push(clip) - 1);
      rowOf.push(r);
    }
  }
  const runs: Struck[][] = rowsOf.map(() => []);
  const again = voices.map(({ channel, voice, saved }, v): ChannelVoice => {
    if (saved || members[v].length < Math.min(enough, voice.count)) return { channel, voice, saved };
    const sound = polish(weighed, members[v], background, frame);
    sound.members.forEach((i, m) => {
      const { delay, gain } = sound.fits[m];
      if (gain > 0) runs[rowOf[i]].push({ voice: v, gain, at: weighed[i].clip.from + delay });
    });
    return { channel, voice: voiceOf(sound, weighed, background, frame, voice) };
  });
  for (const run of runs) run.sort((a, b) => a.at - b.at);
  const scene = { track, frame, background, voices: again.map(({ voice }) => voice) };
  const { voices: tailed, uncut } = await solveTails(scene, runs, { before });
  strikes.sort((a, b) => a.timeS - b.timeS);
  return { voices: again.map((own, v) => ({ ...own, voice: tailed[v] })), strikes, uncut };
}

export function orElse(timeS: number, otherwise: Expectation): Expectation {
  return Number.isNaN(timeS) ? otherwise : timeS;
}
