/**
 * Which instant of a strike counts. It is heard at the microphone at its physical onset; the sound's way there can be
 * taken off, and a machine can be set to what a listener takes for the instant, which in a slow attack comes later.
 */
import { ofMostHeard } from './learn/onset-uncertainty.ts';
import type { Machine } from '../machine/machine.ts';
import { centredMean } from '../numbers/centred-mean.ts';
import type { Take } from '../take/take.ts';
import type { Frame } from './signal/clip.ts';
import type { Hearing, Hits, Instant } from './hits.ts';
import type { TrackStrikes } from './explain/track.ts';
import type { Envelope } from './learn/envelope.ts';
import type { Voice } from './learn/voice.ts';

/** Speed of sound in air at 20 °C, m/s, and that temperature in kelvin (ISO 9613-1:1993). */
const speedAt20 = 343.2;
const kelvinAt20 = 293.15;
const kelvinAt0 = 273.15;
/** Where take.jsonc says nothing of the air. */
export const usualCelsius = 20;

/** Speed of sound in air, m/s: c = 343.2·√(T/293.15 K), ISO 9613-1:1993. */
export function speedOfSound(celsius: number): number {
  return speedAt20 * Math.sqrt((celsius + kelvinAt0) / kelvinAt20);
}

/**
 * An attack is heard where its envelope passes a level some 6 to 15 dB below its peak (Vos & Rasch 1981, Perception &
 * Psychophysics 29:323, from memory); the middle of that.
 */
const belowPeakDb = 10;
/** The envelope is the mean over this, s: what is shorter an ear does not follow; common practice, no source. */
const blurS = 0.001;

/** From a voice's physical onset to the instant at which it is heard to begin, s. */
export function perceivedDelay(voice: Voice, frame: Frame): number {
  if (voice.envelope !== null) return perceivedInEnvelope(voice.envelope, frame);
  const envelope = centredMean(envelopeOf(voice.spectrum, frame), Math.round(blurS * frame.sampleRate) >> 1);
  const from = Math.floor(voice.onset);
  let peakAt = from;
  for (let i = from; i < voice.span[1]; i++) if (envelope[i] > envelope[peakAt]) peakAt = i;
  const level = envelope[peakAt] * 10 ** (-belowPeakDb / 20);
  let first = from;
  while (first < peakAt && envelope[first] < level) first++;
  if (first === from) return 0;
  const between = (level - envelope[first - 1]) / (envelope[first] - envelope[first - 1]);
  return Math.max(0, (first - 1 + between - voice.onset) / frame.sampleRate);
}

/** The same of a sound of which only the power's course repeats: its hops are shorter than what an ear follows. */
function perceivedInEnvelope({ power, bands, hops, hop, onset }: Envelope, { sampleRate }: Frame): number {
  const all = Float64Array.from({ length: hops }, (_, h) => power[h * bands + bands - 1]);
  const level = Math.max(...all) * 10 ** (-belowPeakDb / 10);
  const first = all.findIndex((p) => p >= level);
  return Math.max(0, ((first + 0.5 - onset) * hop) / sampleRate);
}

/** Magnitude of the analytic signal. */
function envelopeOf(spectrum: Float64Array, frame: Frame): Float64Array {
  const x = frame.fourier.inverse(spectrum);
  const turned = new Float64Array(spectrum.length);
  for (let k = 2; k < spectrum.length - 2; k += 2) {
    turned[k] = spectrum[k + 1];
    turned[k + 1] = -spectrum[k];
  }
  const quadrature = frame.fourier.inverse(turned);
  return x.map((value, i) => Math.hypot(value, quadrature[i]));
}

/** From physical to perceived onset by channel, s, from the voice with which each was mostly heard; NaN where none was. */
export function perceivedDelays(
  heard: readonly TrackStrikes[],
  labels: readonly (readonly number[])[],
  channels: number,
): Float64Array {
  return ofMostHeard(heard, labels, channels, perceivedDelay);
}

/**
 * Moves every hit to the instant that counts, as machine.jsonc (`onset`, `microphoneMm`) and take.jsonc (`airCelsius`)
 * say.
 *
 * @returns hits ascending by that instant, with `heardS` beside it; the same hearing where nothing is moved
 */
export function countInstants(hearing: Hearing, machine: Machine, take: Take): Hearing {
  const { channels, onset } = machine.description;
  const speed = speedOfSound(take.description.airCelsius ?? usualCelsius);
  const instants = channels.map(({ microphoneMm }, c): Instant => ({
    travelS: microphoneMm === undefined ? 0 : microphoneMm / 1000 / speed,
    perceivedS: onset === 'perceived' ? (hearing.perceivedS?.[c] ?? NaN) : 0,
  }));
  const later = instants.map(({ travelS, perceivedS }) => (perceivedS || 0) - travelS);
  if (later.every((s) => s === 0)) return { ...hearing, instants };
  const { hits } = hearing;
  const timeS = hits.timeS.map((time, i) => time + (hits.channel[i] < 0 ? 0 : later[hits.channel[i]]));
  const order = [...timeS.keys()].sort((a, b) => timeS[a] - timeS[b] || a - b);
  return { ...hearing, instants, hits: inOrder({ ...hits, timeS, heardS: hits.timeS }, order) };
}

function inOrder(hits: Required<Hits>, order: readonly number[]): Hits {
  return {
    count: hits.count,
    timeS: Float64Array.from(order, (i) => hits.timeS[i]),
    heardS: Float64Array.from(order, (i) => hits.heardS[i]),
    timeSdS: Float64Array.from(order, (i) => hits.timeSdS[i]),
    track: Int32Array.from(order, (i) => hits.track[i]),
    channel: Int32Array.from(order, (i) => hits.channel[i]),
    levelDb: Float32Array.from(order, (i) => hits.levelDb[i]),
    why: order.map((i) => hits.why[i]),
  };
}
