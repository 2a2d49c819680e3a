import { describe, expect, it } from 'vitest';
import { applyCorrections, leftOut, type Correction } from '../../analysis/hits/corrections.ts';
import type { Hearing } from '../../analysis/hits/hits.ts';
import { rigMachine } from '../rig/machine.ts';

const machine = rigMachine({ channels: ['block', 'gong'], seed: 1 });
/** A block at 1 s and 2 s, a gong at 1.5 s, a sound of nobody at 2.5 s that was set aside. */
const hearing: Hearing = {
  tracks: [],
  hits: {
    count: 4,
    timeS: Float64Array.of(1, 1.5, 2, 2.5),
    timeSdS: new Float64Array(4).fill(1e-6),
    track: Int32Array.of(0, 1, 0, 1),
    channel: Int32Array.of(0, 1, 0, -1),
    levelDb: new Float32Array(4).fill(-12),
    why: [null, null, null, 'masked'],
  },
};
const row = (action: Correction['action'], timeS: number, channel = ''): Correction => ({
  timeS,
  channel,
  action,
  note: '',
});
const apply = (...rows: Correction[]) => {
  const { hearing: after, findings } = applyCorrections(hearing, machine, rows);
  const { hits } = after;
  return {
    findings: findings.map(({ kind }) => kind),
    hits: Array.from({ length: hits.count }, (_, i) => [hits.timeS[i], hits.channel[i], hits.why[i]]),
  };
};
const untouched = [
  [1, 0, null],
  [1.5, 1, null],
  [2, 0, null],
  [2.5, -1, 'masked'],
];

describe('a person’s word about hits', () => {
  it('drops the hit that it means, also where it is heard some ms from where it was', () => {
    expect(apply(row('drop', 2.004, 'block'))).toEqual({
      findings: ['corrected'],
      hits: [untouched[0], untouched[1], [2, 0, leftOut], untouched[3]],
    });
  });
  it('gives a hit its right channel, and puts one back that was set aside', () => {
    expect(apply(row('rename', 2.5, 'gong')).hits[3]).toEqual([2.5, 1, null]);
  });
  it('moves the nearest hit of the channel, known then as well as a hand can tell', () => {
    expect(apply(row('move', 1.25, 'block')).hits).toEqual([[1.25, 0, null], ...untouched.slice(1)]);
    const moved = applyCorrections(hearing, machine, [row('move', 1.25, 'block')]).hearing.hits;
    expect([moved.timeSdS[0], moved.track[0]]).toEqual([1e-3, 0]);
  });
  it('adds a strike that was missed, in its place', () => {
    expect(apply(row('add', 1.75, 'gong')).hits).toEqual([
      untouched[0],
      untouched[1],
      [1.75, 1, null],
      untouched[2],
      untouched[3],
    ]);
  });
  it.each([
    ['a hit that was not heard', row('drop', 1.25, 'block')],
    ['a hit of another channel', row('drop', 1, 'gong')],
    ['a channel that is not there', row('rename', 1, 'drum')],
    ['nobody', row('add', 1.2)],
  ])('says which row means %s, and leaves the hits alone', (_, correction) => {
    expect(apply(correction)).toEqual({ findings: ['unused-correction'], hits: untouched });
  });
  it('is nothing where there is none', () => {
    expect(applyCorrections(hearing, machine, [])).toEqual({ hearing, findings: [] });
  });
});
