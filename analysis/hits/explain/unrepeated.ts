/**
 * What a track holds of a sound whose waveform does not repeat, where no pattern says when it is due: moments that stand
 * clear of the background and that no waveform explains teach an envelope, and are then told by it.
 */
import { momentOfStrikeS, type Strike } from './strike.ts';
import { median, robustSd } from '../../numbers/statistics.ts';
import type { Scene } from '../context.ts';
import type { OnsetCandidates } from '../detect/listen.ts';
import { nearestWithin } from '../expect/expected.ts';
import { learnEnvelope } from '../learn/envelope.ts';
import { repeats, usualPeak } from '../learn/lessons.ts';
import { voiceFromEnvelope, type Voice } from '../learn/voice.ts';
import type { Rejected } from '../select/rejected.ts';
import { readClip } from '../signal/clip.ts';
import { followEnvelopes } from './envelopes.ts';
import type { Followed } from './follow.ts';

/** Noise peaks 14 dB above its root mean square about once in a million samples. */
const clearOfNoise = 10 ** (15 / 20);
/** Against what rang before: a tail's beating rises by less. */
const clearOfRinging = 1.5;
/** A rough sound has several moments: those within this after its first, s, are the same sound's. */
const firstInS = 0.04;
const fewest = 4;
const lessons = 48;
/** What is this much fainter than the strikes that do repeat is not the track's striker: talk, steps, bleed. */
const asLoud = 0.5;
/**
 * Least share of the moments that must fit the envelope learnt from them, and greatest robust standard deviation of their levels,
 * dB: talk meets neither.
 */
const mostly = 0.6;
const levelSdDb = 6;

interface TrackHeard {
  readonly voices: readonly Voice[];
  readonly strikes: readonly Strike[];
  readonly rejected: readonly Rejected[];
}

export async function withUnrepeated(
  scene: Scene,
  heard: OnsetCandidates,
  followed: Followed,
): Promise<TrackHeard> {
  const { track, frame, background, voices } = scene;
  const asItIs = { voices, strikes: followed.strikes, rejected: followed.rejected };
  // Waveforms that came once each are no sound's waveform: each is one strike of new noise.
  const counts = voices.map((_, v) => followed.strikes.filter(({ voice }) => voice === v).length);
  const repeated = new Set([...voices.keys()].filter((v) => voices[v].count > 2 && counts[v] > 2));
  const strikes = followed.strikes.filter(({ voice }) => repeated.has(voice));
  const strikesS = Float64Array.from(strikes, ({ timeS }) => timeS);
  const noise = Math.sqrt(heard.noisePower);
  let lastS = -Infinity;
  const open = [...heard.at.keys()].filter((m) => {
    const timeS = heard.at[m] / track.sampleRate;
    const isClear =
      heard.peak[m] > clearOfNoise * noise && heard.peak[m] > clearOfRinging * heard.peakBefore[m];
    return isClear && nearestWithin(strikesS, timeS, momentOfStrikeS) < 0;
  });
  const first = open.filter((m) => {
    const timeS = heard.at[m] / track.sampleRate;
    const begins = timeS - lastS > firstInS;
    if (begins) lastS = timeS;
    return begins;
  });
  if (first.length < fewest || first.length < repeats * (first.length + strikes.length)) return asItIs;
  const usual = strikes.length > 0 ? median(strikes.map(({ peak }) => peak)) : 0;
  if (median(first.map((m) => heard.peak[m])) < asLoud * usual) return asItIs;
  const clips = [];
  const every = Math.max(1, first.length / lessons);
  for (let i = 0; i < first.length; i += every)
    clips.push(await readClip(track, heard.at[first[Math.floor(i)]], frame));
  const envelope = learnEnvelope(
    clips.map(({ samples }) => samples),
    background,
    frame,
  );
  if (envelope === null) return asItIs;
  const kept = [...repeated];
  const all = [...kept.map((v) => voices[v]), voiceFromEnvelope(envelope, usualPeak(clips, frame), frame)];
  const own = strikes.map((strike) => ({ ...strike, voice: kept.indexOf(strike.voice) }));
  const wanted = open.map((m) => ({
    voice: kept.length,
    timeS: heard.at[m] / track.sampleRate,
    reachS: frame.reach / frame.sampleRate,
    leastGain: 0.1,
  }));
  const found = await followEnvelopes({ ...scene, background, voices: all }, wanted, own);
  const levels = found.kept.map(({ gain }) => 20 * Math.log10(gain));
  if (found.kept.length < mostly * first.length || robustSd(levels) > levelSdDb) return asItIs;
  return {
    voices: all,
    strikes: [...own, ...found.kept].sort((a, b) => a.timeS - b.timeS || a.voice - b.voice),
    rejected: [
      ...followed.rejected
        .filter(({ strike }) => repeated.has(strike.voice))
        .map(({ strike, why }) => ({ why, strike: { ...strike, voice: kept.indexOf(strike.voice) } })),
      ...found.rejected,
    ],
  };
}
