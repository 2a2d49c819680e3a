import { describe, expect, test } from 'vitest';
import { instants } from '../../analysis/checks/instants.ts';
import type { Study } from '../../analysis/checks/check.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { hearingOf, takeOf } from '../bench/coverage.bench.ts';
import { playCase, usual } from '../bench/coverage-machines.ts';

const played = playCase({ ...usual, channels: 3, turns: 3 }, 4301);
const hearing = hearingOf(played);
const take = takeOf(played);
const groupsWith = (changes: Partial<typeof hearing>, machine = played.machine) =>
  summariseGroups(layOnBarrel({ ...hearing, ...changes }, machine, take), machine);

describe('where a sound begins', () => {
  test('is one error a take and channel: in every group of it, and the reference’s in all', () => {
    const plain = groupsWith({});
    const told = groupsWith({ onsetSdS: Float64Array.of(0.0003, 0.0004, NaN) });
    told.forEach(({ channel, varianceMs2, standardErrorMs }, i) => {
      const onset = channel === 'ref' ? 0 : channel === 'c0' ? 0.25 : 0.09;
      expect(varianceMs2!.onset).toBeCloseTo(onset, 9);
      expect(standardErrorMs! ** 2 - plain[i].standardErrorMs! ** 2).toBeCloseTo(onset, 9);
    });
  });
});

describe('a microphone’s distance told for one channel alone', () => {
  const { description } = played.machine;
  const channels = description.channels.map((channel, c) =>
    c === 1 ? { ...channel, microphoneMm: 1200 } : channel,
  );
  const machine = { ...played.machine, description: { ...description, channels } };
  test('is no zero for the others: their intervals are as wide as the way may be long', () => {
    const { onset } = groupsWith({}, machine).find(({ channel }) => channel === 'c1')!.varianceMs2!;
    // Uniform up to 1.2 m at 343.2 m/s, the reference’s as unknown: 2 × 3.497²/3.
    expect(onset).toBeCloseTo((2 * (1200 / 343.2) ** 2) / 3, 3);
  });
  test('and it is said', () => {
    const study = { machine, hearing, take } as unknown as Study;
    expect(instants.run(study)).toMatchObject([{ kind: 'unknown-instant' }]);
    expect(instants.run({ ...study, machine: played.machine })).toEqual([]);
  });
});
