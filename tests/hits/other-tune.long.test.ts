// Sounds of several channels on one track are named by the pattern: a wrong tune must not get its own names believed.
import { expect, test } from 'vitest';
import { hearInStep } from '../../analysis/hits/hear-in-step.ts';
import { heardAsAnother } from '../../analysis/strokes/hear-tunes.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { makeTake } from '../rig/take.ts';
import { struck } from './synthetic.ts';

const channels = ['block', 'drum', 'bell'];
const sounds = [[struck(900, 0.1)], [struck(140, 0.12)], [struck(520, 0.08)]];
const of = (seed: number) => rigMachine({ channels, steps: 64, seed });
const march = of(5);
const waltz = of(55);

function named(tune: 'march' | 'waltz'): Machine {
  const row = (name: string, { pins }: Machine) => ({ name, pattern: name, patternFile: name, pins });
  const { pins } = tune === 'march' ? march : waltz;
  return { ...march, pins, tune, tunes: [row('march', march), row('waltz', waltz)] };
}

test.each([
  ['all channels', [0, 1, 2], 'march', null],
  ['all channels', [0, 1, 2], 'waltz', 'march'],
  ['a dead bell', [0, 1], 'march', null],
  ['a dead bell', [0, 1], 'waltz', 'march'],
] as const)(
  'on one track, %s (channels %j): a take of the march that is named %s',
  async (_, sounding, tune, told) => {
    const truth = { channelMs: { bell: 6, drum: 3 }, repeatabilityMs: { block: 0.3, drum: 0.5, bell: 0.5 } };
    const { strikes: all } = play(march, truth, { bpm: 100, turns: 3 }, seededRandom(5));
    const strikes = all.filter(({ channel }) => (sounding as readonly number[]).includes(channel));
    const durationS = all[all.length - 1].timeS + 0.8;
    const tracks = [[0, 1, 2]];
    const sampleRate = 48_000;
    const { take } = makeTake(march, {
      sampleRate,
      durationS,
      strikes,
      sounds,
      tracks,
      snrDb: 40,
      gainDb: 2,
      seed: 3,
    });
    const machine = named(tune);
    const other = await heardAsAnother(take, await hearInStep(take, machine, {}), machine, {});
    expect(other?.other.tune ?? null).toBe(told);
  },
);
