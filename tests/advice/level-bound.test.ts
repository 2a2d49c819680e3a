import { levelSpan } from '../../analysis/advice/level-span.ts';
import { describe, expect, test } from 'vitest';
import { advise } from '../../analysis/advice/advise.ts';
import { dropHeightMm, dropLevelDb } from '../../analysis/machine/effects.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { block, drop as dropHeight, latenessWith, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();
const drop = (extra: object = {}) => dropHeight('drop-gong', { channels: ['gong'] }, extra);
const lever = (extra: object = {}) => shim('lever-gong', { channels: ['gong'] }, extra);
const kept = { id: 'gong', keepLevel: { withinDb: 0.5, dropHeightMm: 100 } };
const machine = (channel: { id: string }, adjusters: readonly object[]) =>
  machineOf([block, channel], ['A', 'B'], adjusters);
const settingsOf = async (of: ReturnType<typeof machine>, ms: number) => {
  const advice = await advise(of, [reportOf(of, { gong: [ms, ms] })], solve);
  return {
    advice,
    proposed: Object.fromEntries(advice.settings.map(({ adjuster, proposed }) => [adjuster, proposed])),
  };
};

describe('the level that is kept', () => {
  test('allows exactly the settings whose height keeps it, by trying each', () => {
    for (const [withinDb, meantMm, dropMm] of [
      [0.5, 100, 1],
      [1.5, 130, 1],
      [3, 100, -2],
      [0.01, 100, 1],
    ] as const) {
      const adjuster = drop({ perUnit: { dropMm, dropHeightMm: 100 }, min: -40, max: 40 });
      const of = machine({ id: 'gong', ...{ keepLevel: { withinDb, dropHeightMm: meantMm } } }, [adjuster]);
      const { lo, hi } = levelSpan(of, 0)!;
      for (let setting = -40; setting <= 40; setting++) {
        const db = dropLevelDb(meantMm, dropHeightMm(of.description.adjusters[0], setting));
        expect(setting >= lo && setting <= hi).toBe(Math.abs(db) <= withinDb + 1e-9);
      }
    }
  });

  test('bounds a drop height that alone could mend the lateness, and the advice says what that costs', async () => {
    const plain = await settingsOf(machine({ id: 'gong' }, [drop()]), 20);
    expect(plain.advice.worstAfterMs).toBeLessThan(1);
    expect(plain.advice.loudness).toBeUndefined();
    const { advice, proposed } = await settingsOf(machine(kept, [drop()]), 20);
    // 100·10^(−0.05) = 89.1 mm: 90 mm is the lowest whole setting.
    expect(proposed).toEqual({ 'drop-gong': -10 });
    const [row] = advice.loudness!.rows;
    expect(row).toMatchObject({ channel: 'gong', adjuster: 'drop-gong', withinDb: 0.5, beforeDb: 0 });
    expect(row.afterDb).toBeCloseTo(10 * Math.log10(0.9), 6);
    expect(advice.loudness!.withoutBoundMs).toBeLessThan(1);
    expect(advice.summary).toContain('gong will be 0.5 dB fainter than that of 100 mm, within its 0.5 dB.');
    expect(advice.summary).toContain('If loudness were let go');
  });

  test('is the same round after round: the bound does not go along with what was set', async () => {
    const lowered = machine(kept, [drop({ installed: -10 })]);
    expect((await settingsOf(lowered, 10)).proposed).toEqual({});
  });

  test('a lever is taken where both would do, the height where only it does', async () => {
    const both = machine(kept, [drop(), lever()]);
    expect((await settingsOf(both, 3)).proposed).toEqual({ 'lever-gong': 0 });
    // Nothing is said of loudness: as before.
    const plain = await settingsOf(machine({ id: 'gong' }, [drop(), lever()]), 3);
    expect(Object.keys(plain.proposed)).toHaveLength(1);
    const stiff = machine(kept, [drop(), lever({ locked: true })]);
    const { proposed, advice } = await settingsOf(stiff, 5);
    expect(Object.keys(proposed)).toEqual(['drop-gong']);
    expect(latenessWith(stiff, reportOf(stiff, { gong: [5, 5] }), [proposed['drop-gong'], 3])[2]).toBeCloseTo(
      advice.predicted.find(({ channel }) => channel === 'gong')!.afterMs!,
      1,
    );
  });

  test('the lever alone is taken where the height would only narrow what is foretold', async () => {
    const of = machine({ ...kept, ...{ toleranceMs: 1 } }, [drop(), lever({ installed: 6 })]);
    const { advice, proposed } = await settingsOf(of, 4.2);
    expect(proposed).toEqual({ 'lever-gong': 2 });
    expect(advice.worstAfterMs).toBeLessThan(1);
    const plain = await settingsOf(
      machine({ id: 'gong', ...{ toleranceMs: 1 } }, [drop(), lever({ installed: 6 })]),
      4.2,
    );
    expect(Object.keys(plain.proposed)).toHaveLength(2);
  });

  test('of an adjuster given in ms nobody knows what it does to the level: it stays, and the advice says so', async () => {
    const unknown = shim('link-gong', { channels: ['gong'] }, { perUnit: { ms: 1 } });
    const { advice, proposed } = await settingsOf(machine(kept, [unknown]), 3);
    expect(proposed).toEqual({});
    expect(advice.summary).toContain('What link-gong does to the loudness of gong is not known');
    expect((await settingsOf(machine({ id: 'gong' }, [unknown]), 3)).proposed).toEqual({ 'link-gong': 0 });
  });

  test('a height that lies beyond the bound already is told, and left or brought back', async () => {
    const high = machine(kept, [drop({ installed: 40 })]);
    const { advice, proposed } = await settingsOf(high, 0.1);
    expect(proposed).toEqual({});
    expect(advice.summary).toContain(
      'gong is 1.5 dB louder than that of 100 mm by the height of drop-gong, beyond the 0.5 dB that are allowed.',
    );
    const { lo, hi } = levelSpan(high, 0)!;
    const back = (await settingsOf(high, 20)).proposed['drop-gong'];
    expect(back).toBeGreaterThanOrEqual(lo);
    expect(back).toBeLessThanOrEqual(hi);
  });

  test('what another channel leaves as the worst hides neither a needless shim nor one that helps', async () => {
    const joint = shim('joint', { sectors: ['B'] });
    const all = machineOf([block, kept, { id: 'bell' }], ['A', 'B'], [drop(), joint]);
    const { settings } = await advise(all, [reportOf(all, { gong: [6, 1], bell: [9, 1] })], solve);
    // Nothing helps the bell in A; the height helps the gong there, and the joint keeps what that does to it in B.
    expect(settings.map(({ adjuster }) => adjuster)).toEqual(['drop-gong', 'joint']);
    const alone = await advise(all, [reportOf(all, { gong: [6, 6], bell: [9, 1] })], solve);
    expect(alone.settings.map(({ adjuster }) => adjuster)).toEqual(['drop-gong']);
  });
});
