/** Learns what there is to hear on a track from some of its moments: the background, the voices and their tails. */
import { median } from '../../numbers/statistics.ts';
import type { Track } from '../../take/take.ts';
import { backgroundOf, type Background } from '../signal/background.ts';
import { readClip, type Frame, type RawClip } from '../signal/clip.ts';
import { follow } from '../explain/follow.ts';
import type { OnsetCandidates } from '../detect/listen.ts';
import { joinAlike, sortBySound, weigh, type Sound, type Weighed } from './sounds.ts';
import { learnTails } from './tails.ts';
import { voiceOf, type Struck, type Voice } from './voice.ts';

export interface LearntTrack {
  /** Those with most strikes first. */
  readonly voices: readonly Voice[];
  readonly background: Background;
}

/** Moments to learn from: enough for an average 20 dB above its strikes for each of a few sounds. */
const lessons = 192;
/** In stretches of consecutive ones, for tails; several, so that the whole take has its say. */
const stretches = 4;

/** Rounds of hearing with what was learnt and learning from what was heard: each takes other strikes further off. */
const rounds = 2;

export async function learn(track: Track, heard: OnsetCandidates, frame: Frame): Promise<LearntTrack> {
  const chosen = chooseStretches(heard.at);
  const clips: RawClip[] = [];
  for (const stretch of chosen) for (const at of stretch) clips.push(await readClip(track, at, frame));
  const background = backgroundOf(clips, frame);
  const weighed = clips.map((clip) => weigh(clip, background, frame));
  const groups = sortBySound(weighed, background, frame);
  let voices = worthHearing(groups, weighed, background, frame).map(({ voice }) => voice);
  for (let round = 0; round < rounds; round++) voices = await again(track, chosen, voices, background, frame);
  return { voices, background };
}

interface Spoken {
  readonly sound: Sound;
  readonly voice: Voice;
}

/** Learns anew from each strike with all other strikes taken off, and from what was like no voice; then the tails. */
async function again(
  track: Track,
  stretches: readonly (readonly number[])[],
  voices: readonly Voice[],
  background: Background,
  frame: Frame,
): Promise<Voice[]> {
  const weighed: Weighed[] = [];
  const stretchOf: number[] = [];
  const groups: number[][] = voices.map(() => []);
  const unlike: Weighed[] = [];
  for (const [s, moments] of stretches.entries()) {
    const followed = await follow({ track, frame, background, voices }, moments, { keep: true });
    for (const { voice, rest } of followed.rests) {
      groups[voice].push(weighed.push(rest) - 1);
      stretchOf.push(s);
    }
    unlike.push(...followed.unlike);
  }
  const first = weighed.length;
  weighed.push(...unlike);
  for (const group of sortBySound(unlike, background, frame)) groups.push(group.map((i) => first + i));
  const spoken = worthHearing(groups, weighed, background, frame);
  const strikes = spoken.map(({ sound }) =>
    sound.members.flatMap((i, m) => {
      const { delay, gain } = sound.fits[m];
      return gain > 0 ? [{ stretch: stretchOf[i], gain, at: weighed[i].clip.from + delay }] : [];
    }),
  );
  const own = spoken.flatMap((_, v) =>
    followsAnother(v, strikes, frame, track.channels.length > 1) ? [] : [v],
  );
  const runs = stretches.map((_, s) =>
    own
      .flatMap((v, voice) =>
        strikes[v].flatMap(({ stretch, gain, at }): Struck[] => (stretch === s ? [{ voice, gain, at }] : [])),
      )
      .sort((a, b) => a.at - b.at),
  );
  return learnTails({ track, frame, background, voices: own.map((v) => spoken[v].voice) }, runs);
}

/** An echo, or the second knock of one strike, follows at one and the same distance every time, to this, s. */
const sameDistanceS = 0.0001;
/** On a track of several channels two of them may well be a fixed distance apart, but no machine is as exact as this, s. */
const samePlaceS = 0.00002;
const longestEchoS = 0.4;
const nearlyAll = 0.8;

/** Whether nearly every strike of a sound follows one of another sound at one and the same distance: then it is that one's tail. */
function followsAnother(
  v: number,
  strikes: readonly (readonly { readonly at: number }[])[],
  frame: Frame,
  shared: boolean,
): boolean {
  const tolerance = (shared ? samePlaceS : sameDistanceS) * frame.sampleRate;
  return strikes.some((leaders, u) => {
    if (u === v || leaders.length < nearlyAll * strikes[v].length) return false;
    const starts = Float64Array.from(leaders, ({ at }) => at).sort();
    const distances = strikes[v].flatMap(({ at }) => {
      const leader = starts.findLast((start) => start < at - 1);
      return leader !== undefined && at - leader < longestEchoS * frame.sampleRate ? [at - leader] : [];
    });
    if (distances.length < 2) return false;
    const middle = median(distances);
    return distances.filter((d) => Math.abs(d - middle) <= tolerance).length >= nearlyAll * strikes[v].length;
  });
}

/** A sound 40 dB below the loudest is what was left of something else. */
const faintest = 0.01;
/** More sounds than this are not told apart anyway. */
const mostSounds = 12;

/** A sound that stands out of the background by less, summed over all its samples, is the background. */
const leastEnergy = 150;
/** A sound that begins further than this from the moment it was heard at is another moment's, s. */
const offMomentS = 0.012;

/** Largest first; what came once is no voice, where others came again. */
function worthHearing(
  groups: readonly (readonly number[])[],
  weighed: readonly Weighed[],
  background: Background,
  frame: Frame,
): Spoken[] {
  const sounds = joinAlike(
    groups.filter((group) => group.length > 0),
    weighed,
    background,
    frame,
  );
  const again = sounds.some(({ members }) => members.length > 1);
  const spoken = sounds
    .filter(({ members }) => members.length > 1 || !again)
    .sort((a, b) => b.members.length - a.members.length)
    .slice(0, mostSounds)
    .map((sound) => ({ sound, voice: voiceOf(sound, weighed, background, frame) }));
  const loudest = Math.max(...spoken.map(({ voice }) => voice.peak));
  return spoken.filter(
    ({ voice }) =>
      voice.peak >= faintest * loudest &&
      voice.mask.energy >= leastEnergy &&
      Math.abs(voice.onset - frame.pre) <= offMomentS * frame.sampleRate,
  );
}

function chooseStretches(at: Int32Array): number[][] {
  if (at.length <= lessons) return [[...at]];
  const length = lessons / stretches;
  return Array.from({ length: stretches }, (_, i) => {
    const from = Math.round((i * (at.length - length)) / (stretches - 1));
    return [...at.subarray(from, from + length)];
  });
}
