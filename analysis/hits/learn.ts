/** Learns what there is to hear on a track from some of its moments: the background, the voices and their tails. */
import type { Track } from '../take/take.ts';
import { backgroundOf, type Background } from './background.ts';
import { readClip, type Clip, type Frame } from './clip.ts';
import { follow } from './follow.ts';
import type { Heard } from './listen.ts';
import { joinAlike, sortBySound, weigh } from './sounds.ts';
import { learnTails } from './tails.ts';
import { voiceOf, type Voice } from './voice.ts';

export interface Learnt {
  /** Those with most strikes first. */
  readonly voices: readonly Voice[];
  readonly background: Background;
}

/** Moments to learn from: enough for an average 20 dB above its strikes for each of a few sounds. */
const lessons = 192;
/** In stretches of consecutive ones, for tails; several, so that the whole take has its say. */
const stretches = 4;

export async function learn(track: Track, heard: Heard, frame: Frame): Promise<Learnt> {
  const chosen = chooseStretches(heard.at);
  const clips: Clip[] = [];
  for (const stretch of chosen) for (const at of stretch) clips.push(await readClip(track, at, frame));
  const first = learnFrom(clips, frame);
  const withTails = await hearTails(track, chosen, first, frame);
  if (withTails.learnt.voices.every((voice) => voice.tail === null)) return first;
  // Once more without the tails: what looked like several sounds may have been one over different tails.
  const second = learnFrom(withTails.clips, frame);
  return (await hearTails(track, chosen, second, frame)).learnt;
}

function learnFrom(clips: readonly Clip[], frame: Frame): Learnt {
  const background = backgroundOf(clips, frame);
  const weighed = clips.map((clip) => weigh(clip, background, frame));
  const sounds = joinAlike(sortBySound(weighed, background, frame), clips, background, frame);
  const voices = sounds.map((sound) => voiceOf(sound, clips, background, frame));
  return { voices: worthHearing(voices), background };
}

/** A voice 40 dB below the loudest is what was left of something else. */
const faintest = 0.01;

/** What came once is no voice, where others came again. */
function worthHearing(voices: readonly Voice[]): Voice[] {
  const loudest = Math.max(...voices.map((voice) => voice.peak));
  const again = voices.some((voice) => voice.count > 1);
  return voices.filter((voice) => voice.peak >= faintest * loudest && (voice.count > 1 || !again));
}

async function hearTails(
  track: Track,
  stretches: readonly (readonly number[])[],
  { voices, background }: Learnt,
  frame: Frame,
): Promise<{ learnt: Learnt; clips: Clip[] }> {
  const runs = [];
  for (const moments of stretches)
    runs.push((await follow(track, moments, voices, background, frame, false)).strikes);
  const ringing = await learnTails(track, runs, voices, background, frame);
  const clips: Clip[] = [];
  for (const moments of stretches)
    clips.push(...(await follow(track, moments, ringing, background, frame, true)).clips);
  return { learnt: { voices: ringing, background }, clips };
}

function chooseStretches(at: Int32Array): number[][] {
  if (at.length <= lessons) return [[...at]];
  const length = lessons / stretches;
  return Array.from({ length: stretches }, (_, i) => {
    const from = Math.round((i * (at.length - length)) / (stretches - 1));
    return [...at.subarray(from, from + length)];
  });
}
