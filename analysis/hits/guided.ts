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
import { backgroundOf, type Background } from './background.ts';
import { frameFor, readClip, type Frame } from './clip.ts';
import type { Expectation } from './explain.ts';
import { settled, strokesExpected, type Due } from './expected.ts';
import { follow, type Followed } from './follow.ts';
import { nobody } from './label.ts';
import type { Heard } from './listen.ts';
import { lowerBound, type Prominence } from './prominent.ts';
import { joinAlike, polish, sortBySound, weigh, type Weighed } from './sounds.ts';
import { learnTails } from './tails.ts';
import type { TrackStrikes } from './track.ts';
import { voiceFrom, type SavedVoice } from './saved-voice.ts';
import { voiceOf, type Struck, type Voice } from './voice.ts';

/** A stroke teaches where nothing else is due so long before and after it, s: what a clip reaches over, then half of that. */
const alone = [
  { beforeS: 0.03, afterS: 0.07 },
  { beforeS: 0.03, afterS: 0.03 },
  { beforeS: 0.03, afterS: 0.012 },
  { beforeS: 0.015, afterS: 0.03 },
  { beforeS: 0.008, afterS: 0.012 },
] as const;
/** A strike may lie so far from where its channel usually is, s, but never beyond this part of a step. */
const nearS = 0.015;
const nearSteps = 0.45;
/** Strikes from which a channel is learnt: enough for an average 18 dB above its strikes. */
const lessons = 64;
/** Fewer lone strikes than this, and less lonely ones are taken too. */
const enough = 8;
/** On a track of its own a channel may sound in several ways (another force, another spot), each this share of its lessons at least: less is a strike or two that something else spoilt. */
const ownSound = 0.12;
const fewestLessons = 3;
const mostSounds = 8;
/** Where nothing is due, what is this much fainter than the channel's usual strike is what another sound has in common with it. */
const faintAstray = 0.15;
/** Where it is due a strike may be weak, but 20 dB below the usual there was none. */
const faintDue = 0.1;
/** Of two strikes within some ms the first pass tells the louder; the other is looked for where it is due unless a moment is so near, s. */
const ownMomentS = 0.004;
/** Rounds of learning anew from strikes with all others taken off. */
const rounds = 2;
/** Strikes in a row from which a round learns, and how many rows. */
const rowLength = 48;
const rows = 4;

interface Owned {
  readonly channel: number;
  readonly voice: Voice;
  /** Saved from another take: here it never strikes alone, and nothing better can be learnt. */
  readonly saved?: true;
}

export interface GuidedStrikes extends TrackStrikes {
  /** For each voice the channel whose it is, `nobody` for what bleeds in. */
  readonly owners: readonly number[];
  /** Share of what the pattern asked for on this track that was heard. */
  readonly fulfilled: number;
}

/**
 * @returns null where no channel could be learnt
 */
export async function hearGuided(
  track: Track,
  heard: Heard,
  { sure, bleed }: Prominence,
  machine: Machine,
  rotation: RoughRotation,
  saved: readonly SavedVoice[],
  run: Run,
  progress: (fraction: number) => void,
): Promise<GuidedStrikes | null> {
  const frame = frameFor(track.sampleRate);
  const where = (yes: Uint8Array) => heard.at.filter((_, m) => yes[m] === 1);
  const own = where(sure);
  const others = where(bleed);
  const [ownS, othersS] = [own, others].map((at) => Float64Array.from(at, (s) => s / track.sampleRate));
  let due = strokesExpected(track, machine, rotation, (channel) =>
    track.channels.includes(channel) ? ownS : othersS,
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
  const taught = await firstLessons(track, own, others, due, reachS, frame, keptVoices);
  if (taught === null) return null;
  let { voices } = taught;
  const { background } = taught;
  const moments = momentsOf(track, heard, { sure, bleed }, due, reachS, voices);
  const rowsOf = chooseRows(moments);
  for (let round = 0; round < rounds; round++) {
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
  const kept = strikes.filter(
    ({ voice, gain, timeS }) =>
      gain >= (isDue(channelOf[voice], timeS) ? faintDue : faintAstray) * usual[voice],
  );
  const found = dueNear(
    kept.map(({ voice, timeS }) => ({ channel: channelOf[voice], timeS })),
    reachS,
  );
  const asked = due.filter(({ channel }) => track.channels.includes(channel));
  const met = asked.filter(({ channel, timeS }) => !Number.isNaN(found(channel, timeS)));
  return {
    fulfilled: met.length / Math.max(1, asked.length),
    noiseDb: heard.noisePower > 0 ? 10 * Math.log10(heard.noisePower) : -Infinity,
    clippedSamples: heard.clippedSamples,
    badSamples: heard.badSamples,
    voices: voices.map(({ voice }) => voice),
    owners,
    strikes: kept,
    moments: heard.at,
    background,
    frame,
  };
}

function medianGain(strikes: readonly { readonly gain: number }[]): number {
  return strikes.length > 0 ? median(strikes.map(({ gain }) => gain)) : 0;
}

/** A sound shows where it begins when no other is due so long before it, s, nor so shortly after. */
const silentBeforeS = 0.03;
const silentAfterS = 0.004;

/** Whether nothing but this channel is due just before a time. */
function quietBefore(due: readonly Due[]): (channel: number, timeS: number) => boolean {
  const dueS = Float64Array.from(due, (d) => d.timeS);
  return (channel, timeS) => {
    for (
      let i = lowerBound(dueS, timeS - silentBeforeS);
      i < dueS.length && dueS[i] < timeS + silentAfterS;
      i++
    )
      if (due[i].channel !== channel) return false;
    return true;
  };
}

/** When a channel is due, or was found, nearest to a time; NaN where it is not so near. */
function dueNear(
  due: readonly Pick<Due, 'channel' | 'timeS'>[],
  reachS: number,
): (channel: number, timeS: number) => number {
  const times = new Map<number, Float64Array>();
  for (const channel of new Set(due.map((d) => d.channel)))
    times.set(
      channel,
      Float64Array.from(
        due.filter((d) => d.channel === channel),
        (d) => d.timeS,
      ),
    );
  return (channel, timeS) => {
    const own = times.get(channel) ?? new Float64Array();
    const i = nearestTo(own, timeS);
    return i >= 0 && Math.abs(own[i] - timeS) <= reachS ? own[i] : NaN;
  };
}

function orElse(timeS: number, otherwise: 'astray' | 'never'): Expectation {
  return Number.isNaN(timeS) ? otherwise : timeS;
}

/** Voices from the strikes at which a channel is due alone; where there are too few, as saved from another take. */
async function firstLessons(
  track: Track,
  sure: Int32Array,
  bleed: Int32Array,
  due: readonly Due[],
  reachS: number,
  frame: Frame,
  saved: ReadonlyMap<number, SavedVoice>,
): Promise<{ voices: Owned[]; background: Background } | null> {
  const dueS = Float64Array.from(due, (d) => d.timeS);
  const quiet = quietBefore(due);
  const lonely = (i: number, { beforeS, afterS }: (typeof alone)[number]) =>
    (i === 0 || dueS[i] - dueS[i - 1] > beforeS) && (i + 1 === dueS.length || dueS[i + 1] - dueS[i] > afterS);
  const chosen: { channel: number; moments: number[] }[] = [];
  for (const channel of new Set(due.map((d) => d.channel))) {
    const heardAt = track.channels.includes(channel) ? sure : bleed;
    const heardS = Float64Array.from(heardAt, (at) => at / track.sampleRate);
    let moments: number[] = [];
    for (const loneliness of alone) {
      moments = [];
      for (let i = 0; i < due.length; i++) {
        if (due[i].channel !== channel || !lonely(i, loneliness)) continue;
        const m = nearestTo(heardS, dueS[i]);
        if (m >= 0 && Math.abs(heardS[m] - dueS[i]) <= reachS) moments.push(heardAt[m]);
      }
      if (moments.length >= enough) break;
    }
    if (moments.length > 0 && !(moments.length < fewestLessons && saved.has(channel)))
      chosen.push({ channel, moments: spread([...new Set(moments)], lessons) });
  }
  const taught = new Set(chosen.map(({ channel }) => channel));
  const recalled = [...saved].filter(
    ([channel]) =>
      track.channels.includes(channel) && !taught.has(channel) && due.some((d) => d.channel === channel),
  );
  if (chosen.length === 0 && recalled.length === 0) return null;
  const clipsOf = [];
  for (const { channel, moments } of chosen) {
    const clips = [];
    for (const at of moments) clips.push(await readClip(track, at, frame));
    clipsOf.push({ channel, clips });
  }
  const heardClips = clipsOf.flatMap(({ clips }) => clips);
  if (chosen.length === 0)
    for (const at of spread([...sure], lessons)) heardClips.push(await readClip(track, at, frame));
  const background = backgroundOf(
    heardClips.sort((a, b) => a.from - b.from),
    frame,
  );
  const voices = clipsOf.flatMap(({ channel, clips }) => {
    const weighed = clips.map((clip) => ({
      ...weigh(clip, background, frame),
      quietBefore: quiet(channel, (clip.from + frame.pre) / track.sampleRate),
    }));
    const sounds = joinAlike(sortBySound(weighed, background, frame), weighed, background, frame);
    const largest = Math.max(...sounds.map(({ members }) => members.length));
    // On a track of its own a channel may sound in many ways; on a shared one a second way was mostly another's sound in it.
    const most = track.channels.length === 1 ? mostSounds : 1;
    return sounds
      .filter(
        ({ members }) =>
          members.length === largest || members.length >= Math.max(fewestLessons, ownSound * clips.length),
      )
      .slice(0, most)
      .map((sound): Owned => ({ channel, voice: voiceOf(sound, weighed, background, frame) }));
  });
  const kept = recalled.map(([channel, voice]): Owned => ({
    channel,
    voice: voiceFrom(voice, background, frame),
    saved: true,
  }));
  return { voices: [...voices, ...kept], background };
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
  const near = (times: Float64Array, timeS: number, withinS = reachS) => {
    const i = nearestTo(times, timeS);
    return i >= 0 && Math.abs(times[i] - timeS) <= withinS;
  };
  const kept = [...heard.at].filter(
    (at, m) => sure[m] === 1 || bleed[m] === 1 || near(dueS, at / track.sampleRate),
  );
  const keptS = Float64Array.from(kept, (at) => at / track.sampleRate);
  const unheard = due
    .filter(({ channel, timeS }) => known.has(channel) && !near(keptS, timeS, ownMomentS))
    .map(({ timeS }) => Math.round(timeS * track.sampleRate));
  return [...kept, ...unheard].sort((a, b) => a - b);
}

/** Learns each voice anew from strikes with all others taken off, then its tail. */
async function learnAgain(
  track: Track,
  rowsOf: readonly (readonly number[])[],
  voices: readonly Owned[],
  background: Background,
  frame: Frame,
  {
    dueAt,
    isQuiet,
  }: {
    dueAt: (channel: number, timeS: number) => number;
    isQuiet: (channel: number, timeS: number) => boolean;
  },
): Promise<{ voices: Owned[]; strikes: { channel: number; timeS: number }[] }> {
  const weighed: Weighed[] = [];
  const strikes: { channel: number; timeS: number }[] = [];
  const rowOf: number[] = [];
  const members: number[][] = voices.map(() => []);
  for (const [r, moments] of rowsOf.entries()) {
    const { rests }: Followed = await follow(
      track,
      moments,
      voices.map(({ voice }) => voice),
      background,
      frame,
      true,
      undefined,
      // What sounds where it is not due teaches nothing: it may be another's.
      (v, timeS) => orElse(dueAt(voices[v].channel, timeS), 'never'),
    );
    for (const { voice, timeS, rest } of rests) {
      if (Number.isNaN(dueAt(voices[voice].channel, timeS))) continue;
      strikes.push({ channel: voices[voice].channel, timeS });
      const clip = { ...rest, quietBefore: isQuiet(voices[voice].channel, timeS) };
      members[voice].push(weighed.push(clip) - 1);
      rowOf.push(r);
    }
  }
  const runs: Struck[][] = rowsOf.map(() => []);
  const again = voices.map(({ channel, voice, saved }, v): Owned => {
    if (saved || members[v].length < Math.min(enough, voice.count)) return { channel, voice, saved };
    const sound = polish(weighed, members[v], background, frame);
    sound.members.forEach((i, m) => {
      const { delay, gain } = sound.fits[m];
      if (gain > 0) runs[rowOf[i]].push({ voice: v, gain, at: weighed[i].clip.from + delay });
    });
    return { channel, voice: voiceOf(sound, weighed, background, frame, voice) };
  });
  for (const run of runs) run.sort((a, b) => a.at - b.at);
  const tailed = await learnTails(
    track,
    runs,
    again.map(({ voice }) => voice),
    background,
    frame,
  );
  strikes.sort((a, b) => a.timeS - b.timeS);
  return { voices: again.map((own, v) => ({ ...own, voice: tailed[v] })), strikes };
}

function chooseRows(moments: readonly number[]): number[][] {
  if (moments.length <= rows * rowLength) return [[...moments]];
  return Array.from({ length: rows }, (_, r) => {
    const from = Math.round((r * (moments.length - rowLength)) / (rows - 1));
    return moments.slice(from, from + rowLength);
  });
}

/** At most so many, evenly from all. */
function spread<T>(items: readonly T[], most: number): T[] {
  if (items.length <= most) return [...items];
  return Array.from({ length: most }, (_, i) => items[Math.floor((i * items.length) / most)]);
}

/** Index of the nearest, −1 where there is none. */
function nearestTo(ascending: Float64Array, value: number): number {
  const i = lowerBound(ascending, value);
  if (i === 0) return ascending.length > 0 ? 0 : -1;
  if (i === ascending.length) return i - 1;
  return value - ascending[i - 1] <= ascending[i] - value ? i - 1 : i;
}
