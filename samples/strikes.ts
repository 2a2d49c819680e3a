/**
 * Strikes from first principles: a body rings in its modes, each a decaying sinusoid (Fletcher & Rossing 1998, "The
 * Physics of Musical Instruments", chapters 2 and 19), driven by the force of contact, which lasts the longer the
 * softer the mallet is; and a short noise of the contact itself. Nothing sounds before the contact begins.
 */
import { soundFrom, type Sound } from './place.ts';
import type { Random } from './random.ts';

/** One way a body rings. */
export interface Mode {
  readonly hz: number;
  /** Time to fall by 60 dB, s. */
  readonly t60S: number;
  readonly level: number;
}

export interface Body {
  readonly name: string;
  readonly modes: readonly Mode[];
  /** Length of the contact, ms: 0.15 for wood on wood, 4 for a felt beater on a skin. Its force is half a sine. */
  readonly contactMs: number;
  /** Share of the noise of contact, and how long it takes to fall by 60 dB, s. */
  readonly noise: { readonly level: number; readonly t60S: number };
  /** Greatest sample of the finished strike, full scale 1. */
  readonly peak: number;
}

/** A strike lasts until its slowest mode has fallen by 60 dB, but no longer than this: what is left is below the room. */
const longestS = 1.5;

/** One strike of a body at a sample rate; chance makes only the noise of contact. */
export function strike(body: Body, sampleRate: number, random: Random): Sound {
  const t60S = Math.max(body.noise.t60S, ...body.modes.map((mode) => mode.t60S));
  const length = Math.round(Math.min(longestS, t60S) * sampleRate);
  const ringing = new Float64Array(length);
  for (const { hz, t60S: fall, level } of body.modes) {
    const decay = Math.log(1000) / (fall * sampleRate);
    const step = (2 * Math.PI * hz) / sampleRate;
    for (let i = 0; i < length; i++) ringing[i] += level * Math.exp(-decay * i) * Math.sin(step * i);
  }
  const fall = Math.log(1000) / (body.noise.t60S * sampleRate);
  for (let i = 0; i < length; i++) ringing[i] += body.noise.level * Math.exp(-fall * i) * random.normal();

  const driven = drive(ringing, Math.max(2, Math.round((body.contactMs / 1000) * sampleRate)));
  const peak = driven.reduce((max, x) => Math.max(max, Math.abs(x)), 0);
  // The last 20 ms fade, so that the end of a strike is never heard as another.
  const fade = Math.round(0.02 * sampleRate);
  const samples = Float32Array.from(
    driven,
    (x, i) => (body.peak / peak) * x * Math.min(1, (length - i) / fade),
  );
  return soundFrom(body.name, samples, sampleRate);
}

/** The response to half a sine of force, `contact` samples long. */
function drive(ringing: Float64Array, contact: number): Float64Array {
  const out = new Float64Array(ringing.length);
  for (let j = 0; j < contact; j++) {
    const force = Math.sin((Math.PI * (j + 0.5)) / contact);
    for (let i = j; i < out.length; i++) out[i] += force * ringing[i - j];
  }
  return out;
}

/** Modes at these multiples of a fundamental; each higher one a little softer and shorter. */
function series(hz: number, ratios: readonly number[], t60S: number, slope = 0.7): Mode[] {
  return ratios.map((ratio, i) => ({ hz: hz * ratio, t60S: t60S / (1 + 0.5 * i), level: slope ** i }));
}

/** Ideal circular membrane: zeros of Bessel functions over the first, 2.405. */
const membrane = [1, 1.593, 2.136, 2.295, 2.653, 2.917];
/** Free bar: ((2n + 1)π/2)² over the first. */
const bar = [1, 2.757, 5.404, 8.933];
/** Of no simple law: a thick plate, and a bell after its tuner. */
const plate = [1, 1.51, 1.99, 2.42, 2.61, 3.37, 4.06, 4.9, 5.8, 7.1];
const bellPartials = [1, 2, 2.4, 3, 4, 5.33, 6.7];

export const bodies = {
  woodBlock: {
    name: 'wood block',
    modes: series(1050, bar, 0.09),
    contactMs: 0.15,
    noise: { level: 0.5, t60S: 0.012 },
    peak: 0.5,
  },
  bassDrum: {
    name: 'bass drum',
    modes: series(62, membrane, 0.55),
    contactMs: 4,
    noise: { level: 0.15, t60S: 0.05 },
    peak: 0.6,
  },
  rim: {
    name: 'rim clapper',
    modes: series(640, plate, 0.07, 0.85),
    contactMs: 0.2,
    noise: { level: 1.2, t60S: 0.03 },
    peak: 0.4,
  },
  rimHigh: {
    name: 'rim clapper, small',
    modes: series(930, plate, 0.06, 0.85),
    contactMs: 0.18,
    noise: { level: 1.2, t60S: 0.02 },
    peak: 0.4,
  },
  gongLow: {
    name: 'low gong',
    modes: series(118, plate, 2.4, 0.85),
    contactMs: 2,
    noise: { level: 0.2, t60S: 0.03 },
    peak: 0.35,
  },
  gongHigh: {
    name: 'high gong',
    modes: series(251, plate, 1.6, 0.85),
    contactMs: 1,
    noise: { level: 0.2, t60S: 0.02 },
    peak: 0.35,
  },
  bell: {
    name: 'hand bell',
    modes: series(587, bellPartials, 1.4, 0.8),
    contactMs: 0.3,
    noise: { level: 0.2, t60S: 0.01 },
    peak: 0.3,
  },
  slat: {
    name: 'slat',
    modes: series(410, bar, 0.05, 0.9),
    contactMs: 0.3,
    noise: { level: 2.5, t60S: 0.06 },
    peak: 0.45,
  },
} as const satisfies Record<string, Body>;
