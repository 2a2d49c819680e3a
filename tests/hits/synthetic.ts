/** Small takes for the tests of hearing: struck sounds by formula, at exact times, with seeded noise. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { soundFrom, type Sound } from '../../samples/place.ts';
import type { Strike } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { makeTake, type RigOptions } from '../rig/take.ts';
import { rigMachine } from '../rig/machine.ts';

/** A body that rings in three modes after a blow of half a ms: silent before sample 10, −60 dB after `decayS`. */
export function struck(hz: number, decayS: number, sampleRate = 48_000): Sound {
  const samples = Float32Array.from({ length: Math.round(1.3 * decayS * sampleRate) }, (_, i) => {
    const t = (i - 10) / sampleRate;
    if (t < 0) return 0;
    const rise = 1 - Math.exp(-t / 0.0001);
    const fall = Math.exp((-6.9 * t) / decayS);
    const modes = [1, 2.3, 4.1].map((m, k) => Math.sin(2 * Math.PI * hz * m * t) / (k + 1));
    return 0.3 * rise * fall * (modes[0] + modes[1] + modes[2]);
  });
  return soundFrom(`struck ${hz}`, samples, sampleRate);
}

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
