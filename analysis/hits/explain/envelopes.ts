/**
 * Strikes of sounds that repeat only as an envelope (learn/envelope.ts): looked for where they are due, or where something
 * sounded that no waveform explains, in what the waveforms' strikes leave of the track.
 */
import { backAgainS, type Strike } from './strike.ts';
import type { Scene } from '../context.ts';
import { fitEnvelope } from '../learn/envelope.ts';
import { addVoice, soundsUntil } from '../learn/voice.ts';
import { readClip, type RawClip } from '../signal/clip.ts';
import type { Selected } from '../select/rejected.ts';

/** A place at which a voice that has an envelope may have struck. */
export interface SoughtStrike {
  readonly voice: number;
  readonly timeS: number;
  readonly reachS: number;
  /** Least gain in amplitude against the usual strike. */
  readonly leastGain: number;
}

/** Least log-likelihood ratio: a sound that stands 10 dB above its background over 5 ms has some hundred. */
const leastStrength = 60;
/** A second strike within what the first still sounds is told from its roughness when it is no fainter than this, as a share of its amplitude. */
const asLoud = 0.5;

/** A clip about a sample, less what these strikes sound in it. */
export async function clipWithout(
  { track, frame, voices }: Scene,
  strikes: readonly Strike[],
  at: number,
): Promise<RawClip> {
  const clip = await readClip(track, at, frame);
  for (const strike of strikes)
    if (strike.at < clip.from + frame.n && strike.at + soundsUntil(voices[strike.voice]) > clip.from)
      addVoice(clip.samples, voices[strike.voice], frame, strike.at - clip.from, -strike.gain);
  return clip;
}

/** @returns strikes of voices with envelopes, ascending */
export async function followEnvelopes(
  scene: Scene,
  wanted: readonly SoughtStrike[],
  others: readonly Strike[],
): Promise<Selected> {
  const { track, frame, background, voices } = scene;
  const found: (Strike & { readonly strength: number })[] = [];
  for (const { voice, timeS, reachS, leastGain } of wanted) {
    const { envelope, onset, peak } = voices[voice];
    if (envelope === null) continue;
    const { from, samples } = await clipWithout(scene, others, Math.round(timeS * track.sampleRate));
    const fit = fitEnvelope(samples, envelope, background, frame, {
      around: timeS * track.sampleRate - from,
      reach: reachS * track.sampleRate,
    });
    const gain = Math.sqrt(fit.gain);
    if (!(fit.strength > leastStrength) || gain < leastGain) continue;
    found.push({
      timeS: (from + fit.onset) / track.sampleRate,
      timeSdS: fit.sd / track.sampleRate,
      voice,
      at: from + fit.onset - onset,
      gain,
      peak: gain * peak,
      like: 1,
      strength: fit.strength,
    });
  }
  const kept: Strike[] = [];
  const rejected: Selected['rejected'][number][] = [];
  for (const { strength, ...strike } of found.sort((a, b) => b.strength - a.strength)) {
    void strength;
    const { envelope } = voices[strike.voice];
    const lastsS = (envelope!.lasts * envelope!.hop) / track.sampleRate;
    const within = kept.some((other) => {
      if (other.voice !== strike.voice) return false;
      const laterS = strike.timeS - other.timeS;
      return (
        Math.abs(laterS) < backAgainS ||
        (laterS > 0 && laterS < lastsS && strike.gain < asLoud * other.gain) ||
        // Before a stronger one: the rise of that one, laid too early.
        (laterS < 0 && -laterS < lastsS && strike.gain < asLoud * other.gain)
      );
    });
    if (within) rejected.push({ strike, why: 'same strike' });
    else kept.push(strike);
  }
  return { kept: kept.sort((a, b) => a.timeS - b.timeS || a.voice - b.voice), rejected };
}
