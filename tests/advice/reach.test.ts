import { describe, expect, it } from 'vitest';
import { advise, adviceFindings } from '../../analysis/advice/advise.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { block, drop, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();

async function outOfReach(machine: Machine, lateness: Record<string, number[]>) {
  const advice = await advise(machine, [reportOf(machine, lateness)], solve);
  return { advice, findings: adviceFindings(machine, advice) };
}

describe('what stands in the way of tolerance', () => {
  it('names the end of an adjuster’s range and what would be needed', async () => {
    const machine = machineOf([block, { id: 'gong' }], ['A'], [shim('lever', { channels: ['gong'] })]);
    const { advice, findings } = await outOfReach(machine, { gong: [-9] });
    expect(advice.settings).toMatchObject([{ adjuster: 'lever', proposed: 8 }]);
    // −9 + 7.2 is within 2 less the interval: 8 units, from 3 to 11.
    expect(findings).toMatchObject([
      { kind: 'out-of-reach', severity: 'warning', channel: 'gong', sector: 'A' },
    ]);
    expect(findings[0].message).toBe(
      'gong in sector A stays 4.0 ms early: lever would have to go to 11, and its max is 8',
    );
  });

  it('names a level that is kept, as it stands in the machine file', async () => {
    const gong = { id: 'gong', keepLevel: { withinDb: 0.5, dropHeightMm: 100 } };
    const known = await outOfReach(machineOf([block, gong], ['A'], [drop('drop', { channels: ['gong'] })]), {
      gong: [20],
    });
    expect(known.findings[0].message).toMatch(
      /^gong in sector A stays 12\.\d ms late: drop would have to go to −\d\d, and keepLevel of gong allows ±0\.5 dB$/,
    );
    const unknown = { id: 'gong', keepLevel: { withinDb: 0.5 } };
    const { findings } = await outOfReach(
      machineOf([block, unknown], ['A'], [drop('drop', { channels: ['gong'] })]),
      { gong: [20] },
    );
    expect(findings[0].message).toMatch(
      /and keepLevel of gong allows ±0\.5 dB, and what it does to the level is not known$/,
    );
  });

  it('names what is locked, and not what is locked in another channel', async () => {
    const machine = machineOf(
      [block, { id: 'gong' }, { id: 'bell' }],
      ['A'],
      [
        shim('lever', { channels: ['gong'] }, { locked: true }),
        shim('lever-bell', { channels: ['bell'] }, { locked: true }),
      ],
    );
    const { advice, findings } = await outOfReach(machine, { gong: [4], bell: [0] });
    expect(advice.settings).toEqual([]);
    expect(findings.map(({ message }) => message)).toEqual([
      'gong in sector A stays 4.0 ms late: lever would have to go to 0, and it is locked',
    ]);
  });

  it('names a limit on a sum, and why it is there', async () => {
    const machine = machineOf(
      [block, { id: 'gong' }],
      ['A', 'B', 'C'],
      [shim('joint-1', { sectors: ['B'] }), shim('joint-2', { sectors: ['C'] })],
      [{ adjusters: ['joint-1', 'joint-2'], sumMax: 9, why: 'closing gap' }],
    );
    const { findings } = await outOfReach(machine, { gong: [0, -5.5, -5.5] });
    // Each needs 4 units more, 14 in all.
    const way = 'the sum of joint-1, joint-2 (closing gap) would have to reach 14, and its limit is 9';
    expect(findings.map(({ sector }) => sector)).toEqual(['B', 'C']);
    for (const { message } of findings) expect(message).toContain(way);
  });

  it('says where no adjuster moves a group, and mends the others all the same', async () => {
    const machine = machineOf(
      [block, { id: 'gong' }, { id: 'bell' }],
      ['A'],
      [shim('lever', { channels: ['gong'] })],
    );
    const { advice, findings } = await outOfReach(machine, { gong: [3], bell: [6] });
    expect(advice.settings).toMatchObject([{ adjuster: 'lever', proposed: 0 }]);
    expect(findings).toMatchObject([
      { channel: 'bell', message: 'bell in sector A stays 6.0 ms late: no adjuster moves it' },
    ]);
  });

  it('says where sectors of one channel lie too far apart for what moves them together', async () => {
    const machine = machineOf([block, { id: 'gong' }], ['A', 'B'], [shim('lever', { channels: ['gong'] })]);
    const { findings } = await outOfReach(machine, { gong: [3, -3] });
    expect(findings.length).toBeGreaterThan(0);
    expect(findings[0].message).toContain('an adjuster of its own or finer units');
  });

  it('names the drawer where it lacks the pieces', async () => {
    const lever = machineOf([block, { id: 'gong' }], ['A'], [shim('lever', { channels: ['gong'] })]);
    const stock = [{ unit: 'shim', mm: 0.1, count: 1 }];
    const machine = { ...lever, description: { ...lever.description, stock } };
    const { advice, findings } = await outOfReach(machine, { gong: [-5] });
    expect(advice.settings).toMatchObject([{ adjuster: 'lever', proposed: 4 }]);
    expect(findings[0].message).toMatch(
      /^gong in sector A stays 4\.0 ms early: the drawer does not hold what it takes, \d × 0\.1 mm more$/,
    );
  });

  it('names only what moves the group itself, and the way it has to go', async () => {
    const machine = machineOf(
      [block, { id: 'gong' }],
      ['A', 'B', 'C'],
      [
        shim('joint-1', { sectors: ['B', 'C'] }),
        { ...shim('joint-2', { sectors: ['C'] }), installed: 0 },
        { ...shim('lever', { channels: ['gong'] }), installed: 0 },
      ],
    );
    // B needs joint-1 to go up 4 (−5 + 3.2 is within 2 less the interval). That takes C to 3 + 4, and only joint-2 could
    // bring it back, by 6: joint-2 does not move B, and going down would not help it.
    const { findings } = await outOfReach(machine, { gong: [0, -5, 3] });
    expect(findings.map(({ sector, message }) => [sector, message.replace(/.*(late|early): /, '')])).toEqual([
      ['B', 'it takes joint-1 at 7, and no allowed setting brings the other groups in with that'],
      ['C', 'joint-2 would have to go to −6 once the other groups are brought in too, and its min is 0'],
    ]);
  });

  it('has nothing to say of a mean within tolerance, however near its edge it is left', async () => {
    const machine = machineOf([block, { id: 'gong' }], ['A'], [shim('lever', { channels: ['gong'] })]);
    // Its min of 0 leaves 1.9 ± 0.2 ms of 2.
    const { advice, findings } = await outOfReach(machine, { gong: [4.9] });
    expect(advice.settings).toMatchObject([{ adjuster: 'lever', proposed: 0 }]);
    expect(findings).toEqual([]);
    expect(advice.summary).toContain(
      'every mean should come within tolerance, the worst gong in sector A at +1.9 ms, too near its edge to be promised: record a take afterwards',
    );
  });

  it('names the worst of those that are out, though another’s wider tolerance lets it stand farther off', async () => {
    const channels = [block, { id: 'gong' }, { id: 'bell', toleranceMs: 6 }];
    const machine = machineOf(channels, ['A'], []);
    const { advice } = await outOfReach(machine, { gong: [3], bell: [5] });
    expect(advice.summary).toContain('nearer to tolerance: gong in sector A at +3.0 ms');
  });

  it('has nothing to say where tolerance is reached', async () => {
    const machine = machineOf([block, { id: 'gong' }], ['A'], [shim('lever', { channels: ['gong'] })]);
    expect((await outOfReach(machine, { gong: [3] })).findings).toEqual([]);
  });
});
