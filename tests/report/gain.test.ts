import { describe, expect, it } from 'vitest';
import { gainsOf } from '../../analysis/report/gain.ts';
import { matrixOf } from '../../analysis/report/next.ts';
import { togetherPairs } from '../../analysis/report/together.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import type { Advice } from '../../analysis/results/results.ts';
import { exampleReport, group } from './example.ts';

const lever = (channel: string) => ({
  id: `lever-${channel}`,
  unit: 'shim',
  perUnit: { ms: 1 },
  shifts: { channels: [channel] },
  installed: 0,
  min: -9,
  max: 9,
});
const description = machineSchema.parse({
  name: 'Mill Lane attic barrel',
  barrel: {
    steps: 96,
    stepsPerBeat: 4,
    diameterMm: 800,
    sectors: [
      { id: 'A', from: 0 },
      { id: 'B', from: 48 },
    ],
  },
  reference: 'block',
  channels: [
    { id: 'block', onBarrel: false },
    { id: 'gong-a' },
    { id: 'gong-b' },
    { id: 'drum', toleranceMs: 4 },
    { id: 'bell' },
  ],
  adjusters: [lever('gong-b'), lever('drum')],
  together: [['gong-a', 'gong-b']],
});
const machine: Machine = { description, file: 'm', patternFile: 'p', reference: 0, pins: [] };
const row = (channel: string, sector: string, beforeMs: number, afterMs: number, toleranceMs = 2) => ({
  channel,
  sector,
  beforeMs,
  afterMs,
  ci95Ms: 0.1,
  toleranceMs,
});
const advice: Advice = {
  ...exampleReport().advice,
  settings: [
    { adjuster: 'lever-gong-b', unit: 'shim', installed: 0, proposed: -3 },
    { adjuster: 'lever-drum', unit: 'shim', installed: 0, proposed: -6 },
  ],
  predicted: [
    row('gong-a', 'A', -1, -1),
    row('gong-b', 'A', 3, 0),
    row('gong-b', 'B', 1, -2),
    row('drum', 'A', 6, 0, 4),
    row('bell', 'A', 9, 9),
  ],
};

describe('what to calibrate next', () => {
  it('goes by what the settings gain, not by how late it is', () => {
    // Gongs: |3 − (−1)| = 4 of 2 ms, then 1 of 2. Gong b: 3 of 2, then 2 of 2 (in B). Drum: 6 of 4, then 0.
    // The bell is the latest of all, and nothing brings it in.
    expect(gainsOf(machine, advice)).toEqual([
      { channels: ['gong-a', 'gong-b'], before: 2, after: 0.5, adjusters: ['lever-gong-b'] },
      { channels: ['drum'], before: 1.5, after: 0, adjusters: ['lever-drum'] },
      { channels: ['gong-b'], before: 1.5, after: 1, adjusters: ['lever-gong-b'] },
      { channels: ['bell'], before: 4.5, after: 4.5, adjusters: [] },
    ]);
  });
  it('is nothing where all is within tolerance', () => {
    expect(gainsOf(machine, { ...advice, predicted: [row('gong-a', 'A', 1.9, 0)] })).toEqual([]);
  });
});

describe('channels that should sound as one', () => {
  it('have a row in the matrix: how far the second strikes after the first, against what one hears', () => {
    const report = {
      ...exampleReport(),
      channels: undefined,
      groups: [group('gong-a', 'A', -1), group('gong-b', 'A', 1.9), group('gong-a', 'B', 1)],
    };
    const rows = matrixOf(report, togetherPairs(machine));
    const both = rows.find(({ channel }) => channel === 'gong-b after gong-a')!;
    // 2.9 of 2 ms apart in A; in B gong b was not measured. Neither of them is out of tolerance by itself.
    expect(both.cells.map(({ meanMs }) => meanMs)).toEqual([2.9, null]);
    expect(both.worst).toBeCloseTo(1.45, 9);
    expect(rows[0]).toBe(both);
  });
});
