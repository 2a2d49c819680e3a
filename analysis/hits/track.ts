/** Hears one track by itself: what sounds there are on it, and every strike of each. */
import type { Run } from '../ports.ts';
import type { Track } from '../take/take.ts';
import { backgroundOf, type Background } from './background.ts';
import { clipOf, frameFor, readClip, type Clip, type Frame } from './clip.ts';
import { explain } from './explain.ts';
import type { TrackHearing } from './hits.ts';
import { listen, type Heard } from './listen.ts';
import { joinAlike, sortBySound, weigh } from './sounds.ts';
import { addVoice, timeStrike, voiceOf, type Voice } from './voice.ts';

/** One strike of one voice of one track. */
export interface Strike {
  readonly timeS: number;
  readonly timeSdS: number;
  /** Index into the track's voices. */
  readonly voice: number;
  readonly gain: number;
  /** Peak level, full scale 1. */
  readonly peak: number;
  /** Cosine between the strike and its voice. */
  readonly like: number;
}

export interface TrackStrikes extends TrackHearing {
  readonly voices: readonly Voice[];
  /** Ascending in time. */
  readonly strikes: readonly Strike[];
  /** Moments that are like no voice, s. */
  readonly unexplained: readonly number[];
}

/** Moments to learn from: enough for an average 20 dB above its strikes for each of a few sounds. */
const lessons = 192;
/** Share of the progress that the first sweep takes, and then the learning. */
const swept = 0.4;
const learnt = 0.5;
/** Moments between two looks at the signal. */
const batch = 64;

export async function hearTrack(
  track: Track,
  run: Run,
  progress: (fraction: number) => void,
): Promise<TrackStrikes> {
  const heard = await listen(track, run, (f) => progress(swept * f));
  const said = {
    noiseDb: heard.noisePower > 0 ? 10 * Math.log10(heard.noisePower) : -Infinity,
    clippedSamples: heard.clippedSamples,
    badSamples: heard.badSamples,
  };
  if (heard.at.length === 0) return { ...said, voices: [], strikes: [], unexplained: [] };
  const frame = frameFor(track.sampleRate);
  const { voices, background } = await learn(track, heard, frame);
  progress(learnt);
  const strikes: Strike[] = [];
  const unexplained: number[] = [];
  let ringing: Ringing[] = [];
  for (let m = 0; m < heard.at.length; m++) {
    ringing = ringing.filter(({ at }) => at + 2 * frame.n > heard.at[m]);
    if (m % batch === 0) {
      run.signal?.throwIfAborted();
      progress(learnt + ((1 - learnt) * m) / heard.at.length);
    }
    const clip = lessTails(await readClip(track, heard.at[m], frame), ringing, voices, frame);
    const parts = explain(clip, voices, background, frame);
    if (parts.length === 0) unexplained.push(heard.at[m] / track.sampleRate);
    for (const part of parts) {
      const voice = voices[part.voice];
      const timed = timeStrike(part.rest, voice, frame, part.fit);
      strikes.push({
        timeS: (clip.from + voice.onset + timed.delay) / track.sampleRate,
        timeSdS: timed.delaySd / track.sampleRate,
        voice: part.voice,
        gain: timed.gain,
        peak: timed.gain * voice.peak,
        like: part.like,
      });
      ringing.push({ voice: part.voice, at: clip.from + timed.delay, gain: timed.gain });
    }
  }
  return { ...said, voices, strikes: onceEach(strikes), unexplained };
}

/** A strike that may still be heard under the next. */
interface Ringing {
  readonly voice: number;
  /** Sample of the track at which its voice's frame starts. */
  readonly at: number;
  readonly gain: number;
}

/** The clip without what earlier strikes still sound in it: their second bounces and tails are theirs, no new strikes. */
function lessTails(clip: Clip, ringing: readonly Ringing[], voices: readonly Voice[], frame: Frame): Clip {
  const still = ringing.filter(({ voice, at }) => at + voices[voice].span[1] > clip.from);
  if (still.length === 0) return clip;
  const samples = Float64Array.from(clip.samples);
  for (const { voice, at, gain } of still) addVoice(samples, voices[voice], frame, at - clip.from, -gain);
  return clipOf(clip.from, samples, frame);
}

/** Sounds of one voice nearer than this are one strike that two moments told of, s. */
const sameStrikeS = 0.008;

/** Ascending, and of strikes of one voice that nearly coincide only the one that is most like it. */
function onceEach(strikes: readonly Strike[]): Strike[] {
  const sorted = [...strikes].sort((a, b) => a.timeS - b.timeS || a.voice - b.voice);
  const kept: Strike[] = [];
  for (const strike of sorted) {
    const twin = kept.findLastIndex((k) => k.voice === strike.voice && strike.timeS - k.timeS < sameStrikeS);
    if (twin === -1) kept.push(strike);
    else if (strike.like > kept[twin].like) kept[twin] = strike;
  }
  return kept.sort((a, b) => a.timeS - b.timeS || a.voice - b.voice);
}

async function learn(
  track: Track,
  heard: Heard,
  frame: Frame,
): Promise<{ voices: Voice[]; background: Background }> {
  const chosen = chooseLessons(heard);
  const clips: Clip[] = [];
  for (const m of chosen) clips.push(await readClip(track, heard.at[m], frame));
  const background = backgroundOf(clips, frame);
  const groups = sortBySound(
    clips.map((clip) => weigh(clip, background, frame)),
    background,
    frame,
  );
  const voices = joinAlike(groups, clips, background, frame).map((sound) =>
    voiceOf(sound, clips, background, frame),
  );
  return { voices, background };
}

/** Evenly over the track, so that every sector, every tempo and every tiredness of the player has its say. */
function chooseLessons(heard: Heard): number[] {
  const all = [...heard.at.keys()];
  if (all.length <= lessons) return all;
  return Array.from({ length: lessons }, (_, i) => all[Math.floor((i * all.length) / lessons)]);
}
