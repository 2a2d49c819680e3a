/** Small takes for the tests of hearing: struck sounds by formula, at exact times, with seeded noise. */
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Sound } from '../../samples/place.ts';
import type { Strike } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { makeTake, type RigOptions } from '../rig/take.ts';
import { rigMachine } from '../rig/machine.ts';

export { struck } from './struck.ts';

/** Strikes of one channel, about every `gapS`, at fractions of a sample that a seed chooses. */
export function strikesEvery(gapS: number, count: number, channel: number, seed: number): Strike[] {
  const random = seededRandom(seed);
  return Array.from({ length: count }, (_, i) => ({
    timeS: 0.2 + i * gapS + random.between(0, 0.05),
    channel,
    step: 0,
    foundStep: 0,
    turn: 0,
    trueLatenessMs: 0,
    pinned: 'right',
  }));
}

export function machineOf(channels: number): Machine {
  return rigMachine({ channels: Array.from({ length: channels }, (_, i) => `c${i}`), seed: 1 });
}

/** One channel a track, each with its own sound and strikes. */
export function takeOfSounds(
  sounds: readonly Sound[],
  strikes: readonly Strike[],
  options: Partial<RigOptions> = {},
) {
  const machine = machineOf(sounds.length);
  const last = Math.max(0, ...strikes.map(({ timeS }) => timeS));
  const made = makeTake(machine, {
    sampleRate: sounds[0].sampleRate,
    durationS: last + 0.5,
    strikes,
    sounds: sounds.map((sound) => [sound]),
    tracks: sounds.map((_, i) => [i]),
    snrDb: 30,
    seed: 4,
    ...options,
  });
  return { machine, ...made };
}
