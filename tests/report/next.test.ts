import { describe, expect, it } from 'vitest';
import {
  matrixOf,
  patternCsv,
  renderMatrix,
  testPattern,
  unmeasuredGroups,
} from '../../analysis/report/next.ts';
import { columnsWide, terminalColumns } from '../../analysis/report/terminal-text.ts';
import { sectorOf } from '../../analysis/machine/effects.ts';
import { rigMachine } from '../rig/machine.ts';
import { exampleReport, group } from './example.ts';

describe('the matrix', () => {
  it('has the worst channel first, in units of its own tolerance', () => {
    const report = {
      ...exampleReport(),
      groups: [group('gong', 'A', 3), group('drum', 'A', 5.1), group('drum', 'B', null)],
    };
    const rows = matrixOf(report);
    // 5.1 of 3 ms is more than 3 of 2 ms.
    expect(rows.map(({ channel, worst }) => [channel, worst])).toEqual([
      ['drum', 1.7],
      ['gong', 1.5],
    ]);
    expect(renderMatrix(rows)).toMatch(/drum +\+5\.10! +·/);
  });
});

it('of several tunes, what one has no pin of is no row, and no group that is left to measure', () => {
  const one = rigMachine({ channels: ['block', 'gong', 'bell'], sectors: 2, seed: 2 });
  const pins = one.pins.filter(({ channel }) => channel < 2);
  const waltz = { name: 'waltz', pattern: 'w.csv', patternFile: 'w.csv', pins };
  const machine = { ...one, pins, tune: 'waltz', tunes: [waltz] };
  const report = { ...exampleReport(), groups: [group('gong', 'A', 3), group('gong', 'B', null)] };
  expect(unmeasuredGroups(one, report)).toEqual(new Set(['gong B', 'bell A', 'bell B']));
  expect(unmeasuredGroups(machine, report)).toEqual(new Set(['gong B']));
  const channels = one.description.channels.map((channel, i) => ({ ...channel, reference: i === 0 }));
  const of = (tune?: string) => matrixOf({ ...report, channels, ...(tune === undefined ? {} : { tune }) });
  expect(of().map(({ channel }) => channel)).toEqual(['gong', 'bell']);
  expect(of('waltz').map(({ channel }) => channel)).toEqual(['gong']);
});

it('a matrix of many sectors fits 100 columns and leaves none out', () => {
  const cells = Array.from({ length: 23 }, (_, i) => ({ sector: `S${i}`, meanMs: -12.34, excess: 1 }));
  const row = { toleranceMs: 2, cells, worst: 6.17, unmeasured: 0 };
  const text = renderMatrix([
    { ...row, channel: 'a-striker-with-a-name-of-many-letters' },
    { ...row, channel: 'gong' },
  ]);
  expect(text.split('\n').filter((line) => columnsWide(line) > terminalColumns)).toEqual([]);
  expect(text.match(/S\d+/g)).toEqual(cells.map(({ sector }) => sector));
  expect(text.match(/−12\.34!/g)).toHaveLength(2 * 23);
});

describe('a test pattern for forty channels', () => {
  const channels = ['block', ...Array.from({ length: 39 }, (_, i) => `striker-${i + 1}`)];
  const machine = rigMachine({ channels, steps: 960, stepsPerBeat: 16, sectors: 4, seed: 2 });
  const wanted = unmeasuredGroups(machine, { ...exampleReport(), groups: [] });
  const secondsPerTurn = 120;
  const { pins, without } = testPattern(machine, wanted, secondsPerTurn);
  it('has one pin for each group, and the reference’s', () => {
    expect(wanted.size).toBe(39 * 4);
    expect(without).toEqual([]);
    const own = pins.filter(({ channel }) => channel > 0);
    const groups = new Set(
      own.map(({ channel, step }) => `${channel} ${sectorOf(machine.description, step)}`),
    );
    expect(own.length).toBe(39 * 4);
    expect(groups.size).toBe(39 * 4);
  });
  it('never has two strikes closer than hearing tells apart', () => {
    const gaps = pins.map(({ step }, i) => (pins[(i + 1) % pins.length].step - step + 960) % 960);
    expect((Math.min(...gaps) * secondsPerTurn) / 960).toBeGreaterThanOrEqual(0.05);
  });
  it('says for which groups there is no room', () => {
    const small = rigMachine({ channels, steps: 96, seed: 2 });
    const all = unmeasuredGroups(small, { ...exampleReport(), groups: [] });
    const tight = testPattern(small, all, 10);
    expect(tight.without.length).toBeGreaterThan(0);
    expect(tight.pins.filter(({ channel }) => channel > 0).length + tight.without.length).toBe(all.size);
  });
  it('is a pattern file', () => expect(patternCsv(machine, pins)).toMatch(/^step,channel\n0,block\n/));
});
