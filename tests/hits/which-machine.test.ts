// Which machine a recording is of: told by the pattern, by voices, or not at all. `npm run bench -- which-machine` has many more.
import { expect, test } from 'vitest';
import { rigMachine } from '../rig/machine.ts';
import { inShort, judged, machineNamed, recorded, strikers, withOthersMoved } from './machines-heard.ts';

const machines = [machineNamed(10), machineNamed(11), machineNamed(12, 64)];
const [first, second] = machines;
const usual = { bpm: 112, turns: 3, snrDb: 25 };
const takeOf = (which: number, seed: number, more: object = {}) => {
  const machine = machines[which];
  const sounds = strikers(machine.description.channels.length);
  return recorded({ machine, sounds, ...usual, seed, ...more });
};

test.each([0, 1, 2])('of three machines on one grid, a take of machine %i is its own', async (which) => {
  const take = takeOf(which, 20 + which, { misplaced: 2, microphones: 1 + (which % 2) });
  expect(inShort(await judged(take, machines))).toBe(`fits ${which} by pattern`);
  // The order in which they are asked does not matter.
  expect(inShort(await judged(take, [...machines].reverse()))).toBe(`fits ${2 - which} by pattern`);
  const others = machines.filter((_, m) => m !== which);
  expect(inShort(await judged(take, others))).toBe('none: no-pattern');
  expect(inShort(await judged(take, [machines[which]]))).toBe('fits 0 by pattern');
});

test('where eight of the pins sit elsewhere the pattern tells; where one does it cannot', async () => {
  const take = takeOf(1, 31);
  expect(inShort(await judged(take, [withOthersMoved(second, 8), second]))).toBe('fits 1 by pattern');
  expect(inShort(await judged(take, [withOthersMoved(second, 1), second]))).toBe('either 0, 1');
});

test('less than a turn, and a pattern of one even beat, are not sure', async () => {
  expect(inShort(await judged(takeOf(1, 51, { turns: 0.7 }), machines))).toBe('perhaps 1: short');
  expect(inShort(await judged(takeOf(1, 51, { turns: 0.05 }), machines))).toBe('none: few-strikes');
  const beats = rigMachine({ channels: ['block'], steps: 96, seed: 1 });
  const take = recorded({ machine: beats, sounds: strikers(1), ...usual, seed: 52 });
  expect(inShort(await judged(take, [beats, first]))).toBe('perhaps 0: even-beat');
});
