/** Whether what sounds at a channel's pins sounds as its saved voice does: what tells machines of one pattern apart. */
import { bisectLeft } from 'd3-array';
import { median } from '../numbers/statistics.ts';
import type { Machine } from '../machine/machine.ts';
import { endlessPattern } from '../rotation/pattern.ts';
import type { RoughRotation } from '../rotation/rotation.ts';
import type { Take, Track } from '../take/take.ts';
import type { OnsetCandidates } from './detect/listen.ts';
import type { SavedVoice } from './learn/saved-voice.ts';

/** A strike's first sound is its own; later its neighbours' and the room's are in it too. */
const comparedS = 0.04;
const beforeOnsetS = 0.0005;
/** A moment is told to some ms (detect/listen.ts). */
const searchedS = 0.004;
/** Moments compared of a channel: a median of more is hardly surer. */
const mostMoments = 12;
const fewestMoments = 3;
/** A moment is its pin's within this, s, beside the channel's own lateness. */
const nearPinS = 0.02;
/** No other channel's pin within so many steps. */
const aloneSteps = 0.75;

export interface Played {
  readonly take: Take;
  readonly machine: Machine;
  readonly rotation: RoughRotation;
  /** By track. */
  readonly detected: readonly OnsetCandidates[];
}

/**
 * @returns the mean over channels of how alike (greatest normalised correlation, 0 to 1) their strikes at pins that no other
 *          channel shares are to the saved voices; NaN where no voice of the take's sampling rate could be held against three
 */
export async function voicesAlike(played: Played, voices: readonly SavedVoice[]): Promise<number> {
  const ids = played.machine.description.channels.map(({ id }) => id);
  const alike: number[] = [];
  for (const voice of voices) {
    const channel = ids.indexOf(voice.channel);
    const own = channel < 0 ? [] : await ofChannel(played, channel, voice);
    // The microphone that hears it best is the one its voice was saved from.
    if (own.length > 0) alike.push(Math.max(...own));
  }
  return alike.length === 0 ? NaN : alike.reduce((sum, value) => sum + value, 0) / alike.length;
}

/** By track that may hear it, the median over its strikes. */
async function ofChannel(
  { take, machine, rotation, detected }: Played,
  channel: number,
  voice: SavedVoice,
): Promise<number[]> {
  const times = timesAlone(machine, channel, rotation, take);
  const medians: number[] = [];
  for (const [t, track] of take.tracks.entries()) {
    if (!track.channels.includes(channel) || Math.abs(track.sampleRate / voice.sampleRate - 1) > 1e-3)
      continue;
    const found: number[] = [];
    for (const timeS of times) {
      const at = nearestMoment(detected[t].at, timeS * track.sampleRate);
      if (Math.abs(at - timeS * track.sampleRate) > nearPinS * track.sampleRate) continue;
      found.push(await likeness(track, at, voice));
      if (found.length === mostMoments) break;
    }
    if (found.length >= fewestMoments) medians.push(median(found));
  }
  return medians;
}

/** When the channel's pins are due at which no other channel strikes, s. */
function timesAlone(machine: Machine, channel: number, rotation: RoughRotation, { tracks }: Take): number[] {
  const { steps } = machine.description.barrel;
  const pattern = endlessPattern(machine, []);
  const alone = pattern.stepsOf[channel].filter((step) =>
    pattern.stepsOf.every(
      (_, c) => c === channel || !(Math.abs(pattern.nearest(c, step) - step) < aloneSteps),
    ),
  );
  const lastS = Math.max(...tracks.map(({ length, sampleRate }) => length / sampleRate));
  const [from, to] = [rotation.positionAt(0), rotation.positionAt(lastS)];
  const times: number[] = [];
  for (let turn = Math.floor(from / steps); turn * steps <= to; turn++)
    for (const step of alone) {
      const position = turn * steps + step;
      if (position >= from && position <= to)
        times.push(rotation.timeAt(position) + rotation.offsetS[channel]);
    }
  return times;
}

function nearestMoment(at: Int32Array, sample: number): number {
  const after = bisectLeft(at, sample);
  const [under, above] = [at[after - 1] ?? -Infinity, at[after] ?? Infinity];
  return sample - under < above - sample ? under : above;
}

/** Greatest normalised correlation of the track about a moment with the voice's beginning; 0 where either is silent. */
async function likeness(track: Track, at: number, voice: SavedVoice): Promise<number> {
  const rate = track.sampleRate;
  const from = Math.max(0, Math.round(voice.onset - beforeOnsetS * rate));
  const template = Float64Array.from(voice.samples.slice(from, from + Math.round(comparedS * rate)));
  const reach = Math.round(searchedS * rate);
  const sound = await track.read(at - reach, at + reach + template.length);
  const ofTemplate = Math.sqrt(power(template, 0, template.length));
  let best = 0;
  for (let lag = 0; lag + template.length <= sound.length; lag++) {
    let sum = 0;
    for (let i = 0; i < template.length; i++) sum += template[i] * sound[lag + i];
    const norm = ofTemplate * Math.sqrt(power(sound, lag, lag + template.length));
    if (norm > 0) best = Math.max(best, Math.abs(sum) / norm);
  }
  return best;
}

function power(samples: ArrayLike<number>, from: number, to: number): number {
  let sum = 0;
  for (let i = from; i < to; i++) sum += samples[i] * samples[i];
  return sum;
}
