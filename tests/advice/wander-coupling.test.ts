// A channel that wanders from take to take is not taken for one that an adjuster moves too; one that moves by much is.
import { expect, test } from 'vitest';
import { doubtsOf } from '../../analysis/advice/doubt-words.ts';
import { beliefFromTakes } from '../../analysis/advice/learn.ts';
import { block, machineOf, reportOf, shim } from './small.ts';

const lever = shim('lever-gong', { channels: ['gong'] }, { perUnit: { mm: 0.064 }, installed: 3, max: 9 });
const machine = machineOf([block, { id: 'gong' }, { id: 'bell' }], ['A', 'B'], [lever]);

/** Kinds of doubt where the lever went down by six, 3.8 ms, and the bell moved by so much as well. */
function doubts(bellMs: number): string[] {
  const take = (name: string, gong: number, bell: number, setting: number) => ({
    ...reportOf(machine, { gong: [gong, gong], bell: [bell, bell] }, 0.14, { 'lever-gong': setting }),
    take: name,
  });
  const reports = [take('1', 4, 0, 9), take('2', 0.2, bellMs, 3)];
  const belief = beliefFromTakes(machine, reports);
  return doubtsOf(belief, belief.rounds).map(({ kind }) => kind);
}

test.each([-0.45, 0.45])('%d ms of 3.8 ms are no coupling in two takes', (ms) => {
  expect(doubts(ms)).not.toContain('moves-others');
});

test.each([-1.2, -1.9])('%d ms of 3.8 ms are one', (ms) => {
  expect(doubts(ms)).toContain('moves-others');
});
