// Six strikers before one microphone, by chance together: what strikes together is one moment, and no pin of it is missing.
import { expect, test } from 'vitest';
import { findRotation } from '../../analysis/rotation/rotation.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';

const channels = ['a', 'b', 'c', 'd', 'e', 'f'];
/** The first sweep tells no two moments nearer than this apart, s. */
const oneMomentS = 0.01;

test.each([1, 2, 3, 4, 5, 6])(
  'moments that may be any of six channels tell the rotation, seed %i',
  (seed) => {
    const machine = rigMachine({ channels, density: 0.2, seed });
    const random = seededRandom(seed);
    const truth = {
      channelMs: Object.fromEntries(channels.slice(1).map((id) => [id, random.between(-6, 6)])),
      repeatabilityMs: Object.fromEntries(channels.map((id) => [id, 0.3])),
    };
    const { strikes } = play(machine, truth, { bpm: 120, turns: 3, startPosition: 20 }, random);
    const timeS: number[] = [];
    for (const strike of strikes)
      if (timeS.length === 0 || strike.timeS - timeS[timeS.length - 1] > oneMomentS) timeS.push(strike.timeS);
    expect(timeS.length).toBeLessThan(0.75 * strikes.length);
    const any = [...channels.keys()];
    const rotation = findRotation(
      machine,
      { timeS: Float64Array.from(timeS), candidates: timeS.map(() => any) },
      { bpm: null, startStep: null, sectorStarts: [] },
    );
    expect(rotation.rivals).toEqual([]);
    expect(Math.abs(rotation.startPosition - 20)).toBeLessThan(0.3);
    expect(rotation.secondsPerStep).toBeCloseTo(0.125, 4);
  },
);

test('strikes at random times are no rotation, whatever channel each may be', () => {
  const found = [1, 2, 3, 4, 5, 6, 7, 8].filter((seed) => {
    const machine = rigMachine({ channels: channels.slice(0, 3), seed });
    const random = seededRandom(100 + seed);
    const timeS = Float64Array.from({ length: 42 }, () => random.between(0, 10)).sort();
    const candidates = [...timeS].map(() => [0, 1, 2]);
    const nothingSaid = { bpm: null, startStep: null, sectorStarts: [] };
    return findRotation(machine, { timeS, candidates }, nothingSaid).found;
  });
  expect(found).toEqual([]);
});
