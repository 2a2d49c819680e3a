/** Takes made of sounds at known times, in memory: hearing can be tested without a file. */
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Take, Track } from '../../analysis/take/take.ts';
import { coloured, type ColourRange } from '../../samples/colour.ts';
import { atFraction, mix, type Sound } from '../../samples/place.ts';
import type { Strike } from '../../samples/play.ts';
import { seededRandom, type Random } from '../../samples/random.ts';
import { strikePower } from './recordings.ts';

export interface RigOptions {
  readonly sampleRate: number;
  readonly durationS: number;
  readonly strikes: readonly Strike[];
  /** Beside the machine's channels: the sounds each strike is drawn from; one sound makes identical strikes. */
  readonly sounds: readonly (readonly Sound[])[];
  /** Channel indices on each track. */
  readonly tracks: readonly (readonly number[])[];
  /** Power of a strike's first 50 ms against the noise's, full band; Infinity for none. */
  readonly snrDb: number;
  readonly seed: number;
  /** Strikes differ in level by up to ± this; 0 for identical ones. */
  readonly gainDb?: number;
  /** Strikes differ in colour; absent: they do not. */
  readonly colour?: ColourRange;
  /** Each strike is heard on the other tracks this much softer, and later by the way between microphones. */
  readonly bleed?: { readonly db: number; readonly delayS: number };
}

export interface RigTake {
  readonly take: Take;
  readonly samples: readonly Float32Array[];
  readonly strikes: readonly Strike[];
}

export function makeTake(machine: Machine, options: RigOptions): RigTake {
  const { sampleRate, durationS, strikes, sounds, tracks, snrDb, gainDb = 0, colour, bleed } = options;
  const random = seededRandom(options.seed);
  const chance = random.split('strikes');
  const samples = tracks.map(() => new Float32Array(Math.round(durationS * sampleRate)));
  for (const strike of strikes) {
    const plain = chance.pick(sounds[strike.channel]);
    const gain = 10 ** (chance.between(-gainDb, gainDb) / 20);
    const placed = atFraction(colour ? coloured(plain, chance, colour) : plain, sampleRate, strike.timeS);
    samples.forEach((track, t) => {
      if (tracks[t].includes(strike.channel)) mix(track, placed.samples, placed.from, gain);
      else if (bleed)
        mix(
          track,
          placed.samples,
          placed.from + Math.round(bleed.delayS * sampleRate),
          gain * 10 ** (bleed.db / 20),
        );
    });
  }
  samples.forEach((track, t) => {
    const power = Math.max(0, ...tracks[t].flatMap((channel) => sounds[channel].map(strikePower)));
    addNoise(track, Math.sqrt(power / 10 ** (snrDb / 10)), random.split(`noise ${t}`));
  });
  const heard = samples.map((track, t) => trackOf(track, sampleRate, tracks[t], `track-${t}.wav`));
  return { take: takeOf(machine, heard), samples, strikes };
}

/** White noise with this root mean square. */
export function addNoise(track: Float32Array, rms: number, random: Random): void {
  if (rms > 0) for (let i = 0; i < track.length; i++) track[i] += rms * random.normal();
}

/** A track in memory, named as assigned to its channels. */
export function trackOf(
  samples: Float32Array,
  sampleRate: number,
  channels: readonly number[],
  file = 'take.wav',
): Track {
  return {
    file,
    track: 0,
    sampleRate,
    length: samples.length,
    channels,
    assigned: true,
    read(from, to) {
      const out = new Float32Array(Math.max(0, to - from));
      const first = Math.max(0, from);
      if (to > first) out.set(samples.subarray(first, Math.min(to, samples.length)), first - from);
      return Promise.resolve(out);
    },
  };
}

export function takeOf(machine: Machine, tracks: readonly Track[]): Take {
  const settings = Object.fromEntries(machine.description.adjusters.map((a) => [a.id, a.installed]));
  return { name: 'rig', description: {}, recorded: null, settings, tracks, markers: [], notices: [] };
}
