/** Takes made of sounds at known times, in memory: hearing can be tested without a file. */
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Take, Track } from '../../analysis/take/take.ts';
import { addNoise, record, type Recording } from '../../samples/record.ts';
import type { Strike } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { strikePower } from './recordings.ts';

export interface RigOptions extends Recording {
  /** Power of a strike's first 50 ms against the noise's, full band; Infinity for none. */
  readonly snrDb: number;
  /** false: nobody said which channels a track hears, so all may be on it. */
  readonly assigned?: boolean;
  readonly seed: number;
}

export interface RigTake {
  readonly take: Take;
  readonly samples: readonly Float32Array[];
  readonly strikes: readonly Strike[];
}

/** The noise on a track is measured against the strongest of the sounds on it; recordings.ts brings all to one power. */
export function makeTake(machine: Machine, options: RigOptions): RigTake {
  const { sampleRate, strikes, sounds, tracks, snrDb, assigned = true } = options;
  const random = seededRandom(options.seed);
  const samples = record(options, random.split('strikes'));
  samples.forEach((track, t) => {
    const power = Math.max(0, ...tracks[t].flatMap((channel) => sounds[channel].map(strikePower)));
    addNoise(track, Math.sqrt(power / 10 ** (snrDb / 10)), random.split(`noise ${t}`));
  });
  const everyone = [...machine.description.channels.keys()];
  const heard = samples.map((track, t) => ({
    ...trackOf(track, sampleRate, assigned ? tracks[t] : everyone, `track-${t}.wav`),
    assigned,
  }));
  return { take: takeOf(machine, heard), samples, strikes };
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
