/**
 * Several recorders in one room: each starts when it is switched on, by a clock of its own, and hears its own strikers near
 * and the others' across the room. Sounds are damped modes and a burst, made by formula; they reach a microphone straight
 * and by the six walls (image sources, Allen & Berkley 1979). Nothing here is shared with how the tool hears.
 */
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Take, Track } from '../../analysis/take/take.ts';
import type { Strike } from '../../samples/play.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { takeOf, trackOf } from './take.ts';

export interface Recorder {
  /** True time of its first sample, s. */
  readonly startS: number;
  /** Its clock counts so many more than its rate in a true second, parts per million. */
  readonly ppm: number;
  /** Channels whose strikers are near its microphone. */
  readonly channels: readonly number[];
  readonly sampleRate?: number;
}

export interface Room {
  readonly recorders: readonly Recorder[];
  readonly strikes: readonly Strike[];
  readonly durationS: number;
  /** Level of another recorder's strikers against a recorder's own, dB; −Infinity: microphones hear only their own. */
  readonly bleedDb: number;
  /** Own strikes' peak against the noise's rms, dB. */
  readonly snrDb: number;
  /** Between microphones, m. */
  readonly apartM?: number;
  readonly seed: number;
}

const speed = 343;
const nearM = 0.06;
/** Of a plain workshop's walls. */
const reflects = 0.6;
const room = [6.3, 4.9, 2.8] as const;
/** Sounds are made this finely, so that between two of its samples a straight line is exact enough (−80 dB at 5 kHz). */
const fineRate = 384_000;
const soundS = 0.25;

export function recordRoom(
  machine: Machine,
  { recorders, strikes, durationS, ...how }: Room,
): { take: Take; tracks: Track[] } {
  const random = seededRandom(how.seed);
  const channels = machine.description.channels.length;
  const sounds = Array.from({ length: channels }, (_, c) => soundOf(random.split(`sound ${c}`)));
  const gains = strikes.map(() => 10 ** (random.between(-1.5, 1.5) / 20));
  const { apartM = 1 } = how;
  const microphones = recorders.map((_, r) => [1.7 + apartM * r, 2.1, 1.1] as const);
  const places = Array.from({ length: channels }, (_, c) => {
    const home = recorders.findIndex((recorder) => recorder.channels.includes(c));
    const along = recorders[home].channels.indexOf(c);
    const [x, y, z] = microphones[home];
    // The first behind its microphone, the second before it: both as near.
    return [x, y + (along === 0 ? nearM : -nearM), z] as const;
  });
  const tracks = recorders.map((recorder, r) => {
    const { sampleRate = 48_000, startS, ppm } = recorder;
    const trueRate = sampleRate * (1 + ppm * 1e-6);
    const samples = new Float32Array(Math.round((durationS - startS) * trueRate));
    strikes.forEach(({ channel, timeS }, s) => {
      const isOwn = recorder.channels.includes(channel);
      if (!isOwn && how.bleedDb === -Infinity) return;
      const natural = distance(places[channel], microphones[r]);
      const gain = gains[s] * nearM * (isOwn ? 1 : (10 ** (how.bleedDb / 20) * natural) / nearM);
      for (const image of imagesOf(places[channel])) {
        const far = distance(image.at, microphones[r]);
        add(
          samples,
          sounds[channel],
          (timeS + far / speed - startS) * trueRate,
          trueRate,
          (gain * image.level) / far,
        );
      }
    });
    const noise = random.split(`noise ${r}`);
    for (let i = 0; i < samples.length; i++) samples[i] += 0.5 * 10 ** (-how.snrDb / 20) * noise.normal();
    return trackOf(samples, sampleRate, recorder.channels, `recorder-${r}.wav`);
  });
  return { take: takeOf(machine, tracks), tracks };
}

type Point = readonly [number, number, number];

function distance(a: Point, b: Point): number {
  return Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2]);
}

function imagesOf(at: Point): { at: Point; level: number }[] {
  const mirrored = [0, 1, 2].flatMap((axis) =>
    [0, 2 * room[axis]].map((plane) => ({
      at: at.map((v, i) => (i === axis ? plane - v : v)) as unknown as Point,
      level: reflects,
    })),
  );
  return [{ at, level: 1 }, ...mirrored];
}

/** Five modes that die away, and a burst of its own colour; peak near 0.5. */
function soundOf(random: Random): Float64Array {
  const modes = Array.from({ length: 5 }, () => ({
    hz: 350 * 2 ** random.between(0, 4),
    decayS: random.between(0.01, 0.07),
    level: random.between(0.1, 0.3),
    phase: random.between(0, 2 * Math.PI),
  }));
  const burst = Array.from({ length: 40 }, () => ({
    hz: random.between(800, 9000),
    decayS: random.between(0.001, 0.004),
    level: 0.04,
    phase: random.between(0, 2 * Math.PI),
  }));
  const out = new Float64Array(soundS * fineRate);
  for (const { hz, decayS, level, phase } of [...modes, ...burst])
    for (let i = 0; i < Math.min(out.length, 8 * decayS * fineRate); i++) {
      const t = i / fineRate;
      out[i] +=
        level * Math.exp(-t / decayS) * (1 - Math.exp(-t / 0.0001)) * Math.sin(2 * Math.PI * hz * t + phase);
    }
  const peak = out.reduce((max, v) => Math.max(max, Math.abs(v)), 0);
  return out.map((v) => (0.5 * v) / peak);
}

function add(samples: Float32Array, sound: Float64Array, at: number, rate: number, gain: number): void {
  const first = Math.max(0, Math.ceil(at));
  const step = fineRate / rate;
  for (let i = first; i < samples.length; i++) {
    const p = (i - at) * step;
    const whole = Math.floor(p);
    if (whole + 1 >= sound.length) return;
    samples[i] += gain * (sound[whole] + (p - whole) * (sound[whole + 1] - sound[whole]));
  }
}
