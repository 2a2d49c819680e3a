/**
 * What tells whose a sound is where rhythm does not: a person's word (a label in take.jsonc that is a time, "12.34 s": the
 * strike there, and all that sound like it), or a voice saved from another take. What stays nobody's is asked about.
 */
import * as Pitchfinder from 'pitchfinder';
import type { Track } from '../../take/take.ts';
import type { UnknownSound } from '../hits.ts';
import { nobody } from './label.ts';
import type { TakeContext } from '../context.ts';
import { voiceFrom } from '../learn/saved-voice.ts';
import { alike } from '../learn/sounds.ts';
import type { TrackStrikes } from '../explain/track.ts';
import { laidOn, type Voice } from '../learn/voice.ts';

/** A person reads a time off a waveform to about this, s; common practice, no source. */
const labelReachS = 0.05;
const timeLabel = /^(\d+(?:[.,]\d+)?) ?s$/;

/** The instant that a label of take.jsonc means, s; NaN where it is a marker's text. */
export function labelledTime(label: string): number {
  const seconds = timeLabel.exec(label.trim())?.[1];
  return seconds === undefined ? NaN : Number(seconds.replace(',', '.'));
}

/** Labels by rhythm, and where a person or a saved voice says better, theirs. */
export function named(
  heard: TrackStrikes,
  track: Track,
  rhythmic: readonly number[],
  { take, machine, saved }: Pick<TakeContext, 'take' | 'machine' | 'saved'>,
): number[] {
  const labels = [...rhythmic];
  const channelOf = (id: string) => machine.description.channels.findIndex((channel) => channel.id === id);
  const { background, frame } = heard;
  const recalled = saved.flatMap((one) =>
    background === null || one.sampleRate !== frame.sampleRate
      ? []
      : [{ channel: channelOf(one.channel), known: voiceFrom(one, background, frame) }],
  );
  heard.voices.forEach((voice, v) => {
    if (labels[v] !== nobody) return;
    const likest = recalled
      .map(({ channel, known }) => ({ channel, like: laidOn(voice, known, frame).like }))
      .filter(({ channel, like }) => track.channels.includes(channel) && like >= alike)
      .sort((a, b) => b.like - a.like);
    if (likest.length > 0) labels[v] = likest[0].channel;
  });
  for (const [label, id] of Object.entries(take.description.labels ?? {})) {
    const timeS = labelledTime(label);
    const channel = channelOf(id);
    if (Number.isNaN(timeS) || !track.channels.includes(channel)) continue;
    const near = heard.strikes.filter((strike) => Math.abs(strike.timeS - timeS) <= labelReachS);
    near.sort((a, b) => Math.abs(a.timeS - timeS) - Math.abs(b.timeS - timeS));
    if (near.length > 0) labels[near[0].voice] = channel;
  }
  return labels;
}

/** A sound of fewer strikes than this is not worth a question. */
const fewestToAsk = 3;

/** What a track's voices are that nobody's label is: an example of each, and its pitch where it has one. */
export function unknownSounds(heard: TrackStrikes, track: number, labels: readonly number[]): UnknownSound[] {
  return heard.voices.flatMap((voice, v) => {
    const own = heard.strikes.filter((strike) => strike.voice === v);
    if (labels[v] !== nobody || own.length < fewestToAsk) return [];
    const clearest = own.reduce((best, strike) => (strike.like > best.like ? strike : best));
    return [{ track, timeS: clearest.timeS, count: own.length, pitchHz: pitchOf(voice, heard) }];
  });
}

/** Of a tuned striker, Hz; null where its sound has no pitch (McLeod & Wyvill 2005, by the library pitchfinder). */
function pitchOf(voice: Voice, { frame }: TrackStrikes): number | null {
  const sound = Float32Array.from(frame.fourier.inverse(voice.spectrum).subarray(Math.ceil(voice.onset)));
  const { freq, probability } = Pitchfinder.Macleod({
    sampleRate: frame.sampleRate,
    bufferSize: sound.length,
    cutoff: 0.97,
  })(sound);
  return freq > 0 && probability > 0.9 ? freq : null;
}
