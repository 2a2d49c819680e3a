// One microphone, three strikers: a pin that stands a fiftieth of a second wrong is heard where it strikes.
import { expect, test } from 'vitest';
import { hear } from '../../analysis/hits/hear.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { makeTake } from '../rig/take.ts';
import { struck } from './synthetic.ts';

const channels = ['reference', 'drum', 'rim'];
const drum = 1;
const machine = rigMachine({ channels, seed: 1, density: 0.12, steps: 64, sectors: 2 });
const alone = machine.pins.find(
  ({ channel, step }) =>
    channel === drum && !machine.pins.some((other) => other.step === step && other.channel !== drum),
)!;

test.each([-30, -20, -12, 12, 20, 30])('%i ms', async (offMs) => {
  const { strikes } = play(machine, {}, { bpm: 100, turns: 4, startPosition: -0.5 }, seededRandom(4));
  const isIt = ({ channel, step }: (typeof strikes)[number]) => channel === drum && step === alone.step;
  const played = strikes.map((one) => (isIt(one) ? { ...one, timeS: one.timeS + offMs / 1000 } : one));
  const { take } = makeTake(machine, {
    sampleRate: 48_000,
    durationS: Math.max(...played.map(({ timeS }) => timeS)) + 1,
    strikes: played,
    sounds: [[struck(2200, 0.1)], [struck(150, 0.3)], [struck(900, 0.08)]],
    tracks: [[0, 1, 2]],
    snrDb: 35,
    seed: 3,
  });
  const { hits } = await hear(take, machine, {});
  const near = (timeS: number) => (t: number, i: number) =>
    hits.channel[i] === drum && Math.abs(t - timeS) < 0.001;
  for (const { timeS } of played.filter(isIt))
    expect([...hits.timeS].filter(near(timeS)), `at ${timeS} s`).toHaveLength(1);
  expect(hits.timeS).toHaveLength(played.length);
});
