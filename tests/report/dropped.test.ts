// What report.json says of moments that are no hits: each with its reason in words, counted, at most 500 of them.
import { describe, expect, test } from 'vitest';
import type { Dropped } from '../../analysis/hits/hits.ts';
import { rejections } from '../../analysis/hits/select/rejected.ts';
import { droppedRows } from '../../analysis/report/dropped.ts';
import { droppedSchema } from '../../analysis/results/results.ts';
import { rigMachine } from '../rig/machine.ts';

const machine = rigMachine({ channels: ['reference', 'drum'], seed: 1 });
const moment = (timeS: number, channel: number, why: Dropped['why']): Dropped => ({
  track: 0,
  timeS,
  channel,
  why,
});

describe('the reasons why moments are no hits', () => {
  test('are counted by channel and reason, most first, and listed in the order of time', () => {
    const rows = droppedRows(
      [moment(1, 1, 'bleed'), moment(2, -1, 'unexplained'), moment(3, 1, 'bleed'), moment(4, 0, 'bleed')],
      machine,
    );
    expect(rows.counts).toEqual([
      { channel: 'drum', why: rejections.bleed, count: 2 },
      { channel: null, why: rejections.unexplained, count: 1 },
      { channel: 'reference', why: rejections.bleed, count: 1 },
    ]);
    expect(rows.moments.map(({ timeS, channel }) => [timeS, channel])).toEqual([
      [1, 'drum'],
      [2, null],
      [3, 'drum'],
      [4, 'reference'],
    ]);
    expect(droppedSchema.parse(rows)).toEqual(rows);
  });

  test('of more than 500 those are kept that would have been a channel’s; the counts count all', () => {
    const nobodys = Array.from({ length: 600 }, (_, i) => moment(i, -1, 'unexplained'));
    const { counts, moments } = droppedRows([...nobodys, moment(1000, 0, 'faint')], machine);
    expect(moments).toHaveLength(500);
    expect(moments.at(-1)).toEqual({ timeS: 1000, track: 0, channel: 'reference', why: rejections.faint });
    expect(counts.map(({ count }) => count)).toEqual([600, 1]);
  });

  test('of more than 500 those beside a missing stroke are kept, and the others over the whole take', () => {
    const nobodys = Array.from({ length: 2000 }, (_, i) => moment(i / 2, -1, 'unexplained'));
    const { moments } = droppedRows(nobodys, machine, [900.25, 77.02]);
    const times = moments.map(({ timeS }) => timeS);
    expect(times).toHaveLength(500);
    expect(times).toContain(77);
    // Nothing sounded within 80 ms of 900.25.
    expect(Math.max(...times)).toBeGreaterThan(990);
    expect(Math.max(...times.slice(1).map((timeS, i) => timeS - times[i]))).toBeLessThan(4);
  });

  test('none were dropped: empty, not absent', () => {
    expect(droppedRows([], machine)).toEqual({ counts: [], moments: [] });
  });
});
