// What moved in one tune alone has that tune's size, and a tune that was not recorded since is no ground for a flat word.
import { expect, test } from 'vitest';
import { adviceFindings, advise } from '../../analysis/advice/advise.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { block, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();
const lever = shim('lever-drum', { channels: ['drum'] }, { perUnit: { mm: 0.064 }, installed: 5, max: 9 });
const plain = machineOf([block, { id: 'drum', toleranceMs: 1 }, { id: 'bell' }], ['A', 'B'], [lever]);
const tune = (name: string) => ({
  name,
  pattern: `${name}.csv`,
  patternFile: `${name}.csv`,
  pins: plain.pins,
});
const machine: Machine = {
  ...plain,
  description: machineSchema.parse({ ...plain.description, refitMs: 0 }),
  tune: 'march',
  tunes: [tune('march'), tune('waltz')],
};
const take = (day: number, of: 'march' | 'waltz', drum: number) => ({
  ...reportOf(machine, { drum: [drum, drum] }, 0.06),
  take: `${day}-${of}`,
  recorded: `2026-01-0${day}`,
  tune: of,
});
const before = [take(1, 'march', 0.2), take(2, 'waltz', 0.2), take(3, 'march', 0.2)];
const said = async (...after: ReturnType<typeof take>[]) => {
  const advice = await advise(machine, [...before, ...after], solve);
  const messages = adviceFindings(machine, advice).map(({ message }) => message);
  return { advice, moved: messages.filter((message) => message.includes(' moved by ')), messages };
};

test('a movement of one tune’s pins has its size, wherever the other tune stood still', async () => {
  const { moved } = await said(take(4, 'waltz', 2.2), take(5, 'march', 0.2));
  expect(moved).toHaveLength(1);
  expect(moved[0]).toMatch(/^drum of waltz moved by \+2\.0 ms \(± 0\.\d\) between takes 2-waltz and 4-waltz/);
  // A lever would have moved both.
  expect(moved[0]).not.toContain('lever-drum');
});

test('a movement of all tunes is told as one, and as that of the tune that shows it where no other could', async () => {
  const both = await said(take(4, 'waltz', 2.2), take(5, 'march', 2.2));
  expect(both.moved[0]).toMatch(/^drum moved by \+2\.0 ms \(± 0\.\d\) between takes 3-march and 4-waltz/);
  const one = await said(take(4, 'waltz', 2.2));
  expect(one.moved[0]).toMatch(/^drum moved by \+2\.0 ms \(± 0\.\d\) in waltz between takes/);
});

test('of a tune that was not recorded since, nothing flat is said, nor anything changed that would spoil it', async () => {
  const { advice, messages } = await said(take(4, 'waltz', 2.2));
  expect(advice.settings).toEqual([]);
  const stays = messages.filter((message) => message.includes(' stays 2.2 ms late: '));
  expect(stays).toHaveLength(2);
  for (const message of stays)
    expect(message).toMatch(
      /: it moved, and march was not recorded since, so that nobody knows whether its pins moved or all tunes$/,
    );
  expect(advice.summary).toMatch(
    /nothing is changed for what moved before march is recorded again: drum in sector [AB] of waltz at \+2\.2 ms/i,
  );
});

test('what moved in one tune alone is not half mended with an adjuster that moves all: its pins are to be looked at', async () => {
  // The march's drum moved by 5 ms and the waltz's stood still, before and after.
  const { advice } = await said(take(4, 'waltz', 0.2), take(5, 'march', 5.2), take(6, 'waltz', 0.2));
  expect(advice.settings).toEqual([]);
  expect(advice.summary).toContain(
    'drum of march stays 5.2 ms late: its pins moved and those of the other tunes did not, and what mends it moves all tunes alike, so nothing is changed for it. Look at those pins first, then record march and another tune again.',
  );
  const least = advice.tunes!.rows.find(({ tune: name }) => name === 'march')!;
  expect(least.aloneMs).toBeLessThan(least.worstAfterMs);
});

test('what an adjuster could make bearable in both tunes is a choice, and the doubt stays as long as the pins do', async () => {
  const still = [take(4, 'waltz', 0.2), take(5, 'march', 1.5), take(6, 'waltz', 0.2)];
  const { advice, moved } = await said(...still, take(7, 'march', 1.5), take(8, 'waltz', 0.2));
  expect(advice.settings).toEqual([]);
  expect(advice.summary).toMatch(
    /If the pins are to stay as they are, a compromise is a choice: lever-drum at \d would have every mean of all tunes at 0\.9 ms or less, and moves those that stood still\./,
  );
  expect(moved).toHaveLength(1);
  expect(moved[0]).toMatch(
    /^drum of march moved by .* between takes 3-march and 5-march.*; no adjuster did it, since drum of waltz stood still, before and after$/,
  );
});
