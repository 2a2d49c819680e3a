// What advice says to people: signs, what was counted in, and how sure the proposal is.
import { describe, expect, it } from 'vitest';
import { advise, adviceFindings, didItWork } from '../../analysis/advice/advise.ts';
import { beliefFromTakes } from '../../analysis/advice/learn.ts';
import { summarise } from '../../analysis/advice/summary.ts';
import { finding } from '../../analysis/results/catalogue.ts';
import { meansWords } from '../../analysis/advice/work.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { seededRandom } from '../../samples/random.ts';
import { machineOf, reportOf } from './small.ts';

const solve = nodeSolver();
const block = { id: 'block', onBarrel: false };
const lever = {
  id: 'lever',
  unit: 'shim',
  perUnit: { mm: 0.1 }, // 1 ms on these machines
  shifts: { channels: ['gong'] },
  installed: -2,
  min: -3,
  max: 8,
};
const machine = machineOf([block, { id: 'gong' }], ['A'], [lever]);

/** A hyphen before a digit. */
const hyphen = /(?<![\w.])-\d/;

describe('numbers below 0 in advice’s sentences', () => {
  it('have the minus sign of print: what was changed since, what is left, an adjuster that contradicts', async () => {
    const far = await advise(machine, [reportOf(machine, { gong: [-22] }, 0.2, { lever: -3 })], solve);
    expect(far.summary).toContain('lever −3 → −2');
    expect(far.summary).toContain('worst gong in sector A at −11.0 ms');
    expect(far.summary).not.toMatch(hyphen);

    const wrong = {
      adjuster: 'lever',
      msPerUnit: -0.9,
      sdMs: 0.1,
      from: 'takes',
      geometryMsPerUnit: 1,
    } as const;
    const [{ message }] = adviceFindings(machine, {
      ...far,
      obstacles: [],
      effects: [{ ...wrong, verdict: 'wrong-way' }],
    });
    expect(message).toBe(
      'the takes show lever to do −0.90 ms a shim (± 0.20), and the machine file makes it +1.00 ms',
    );

    const before = { ...reportOf(machine, { gong: [3] }), take: 'first', settings: { lever: 0 } };
    const after = { ...reportOf(machine, { gong: [0] }), take: 'second', settings: { lever: -3 } };
    const { line } = didItWork(machine, [before, after])!;
    expect(line).toContain('lever 0 → −3 did as expected (−3.0 ms, expected −3.0)');
    expect(line).not.toMatch(hyphen);
  });
});

describe('what several adjusters did', () => {
  const one = (id: string, channel: string) => ({ ...lever, id, shifts: { channels: [channel] } });
  const two = machineOf(
    [block, { id: 'gong' }, { id: 'bell' }],
    ['A'],
    [one('lever-gong', 'gong'), one('lever-bell', 'bell')],
  );
  const outcomeOf = (gongMs: number, bellMs: number) => {
    const before = {
      ...reportOf(two, { gong: [3], bell: [2] }),
      take: 'first',
      settings: { 'lever-gong': 0, 'lever-bell': 0 },
    };
    const after = {
      ...reportOf(two, { gong: [gongMs], bell: [bellMs] }),
      take: 'second',
      settings: { 'lever-gong': -3, 'lever-bell': -2 },
    };
    return didItWork(two, [before, after])!.line;
  };

  it('is said once for those that did alike', () => {
    expect(outcomeOf(0, 0)).toMatch(
      /; lever-gong 0 → −3 \(.* ms, expected −3\.0\), lever-bell 0 → −2 \(.* ms, expected −2\.0\) did as expected\.$/,
    );
  });

  it('is never said where the two takes surely show something else, whatever is held of the adjuster', () => {
    for (const gongMs of [2.6, 1.8, 3])
      expect(outcomeOf(gongMs, 0), `gong ${gongMs}`).not.toMatch(/lever-gong[^;]*did as expected/);
    for (const gongMs of [0.4, -0.4])
      expect(outcomeOf(gongMs, 0), `gong ${gongMs}`).toMatch(/lever-gong[^;]*did as expected/);
  });
});

describe('how sure it is that nothing is better', () => {
  const shim = (id: string, shifts: object) => ({ ...lever, id, shifts, installed: 3, min: 0, max: 8 });
  const sectors = Array.from({ length: 12 }, (_, s) => `S${s}`);
  /** Too many groups and adjusters to solve: the settings come from the search. */
  const channels = Array.from({ length: 6 }, (_, c) => ({ id: `gong-${c}` }));
  const large = machineOf([block, ...channels], sectors, [
    ...sectors.slice(1).map((sector) => shim(`joint-${sector}`, { sectors: [sector] })),
    ...channels.map(({ id }) => shim(`lever-${id}`, { channels: [id] })),
  ]);
  const random = seededRandom(20260315);
  const lateness = Object.fromEntries(
    channels.map(({ id }) => [id, sectors.map(() => random.between(-4.5, 4.5))]),
  );

  it('says that settings were found by search, and neither a share nor that time ran out', async () => {
    const { summary, proven, gap } = await advise(large, [reportOf(large, lateness)], solve);
    expect(proven).toBe(false);
    expect(gap === null || gap! > 0.01).toBe(true);
    expect(summary).toMatch(
      /\. The settings were found by search; they are not proven the best, as \d+ groups by 17 adjusters are too many for a proof\./,
    );
    expect(summary).not.toMatch(/%|time/);
  });

  it('proves the cheapest plan of a machine that is searched, where few changes do', async () => {
    const many = Array.from({ length: 8 }, (_, c) => ({ id: `bell-${c}` }));
    const searched = machineOf(
      [block, ...many],
      sectors.slice(0, 6),
      many.map(({ id }) => shim(`lever-${id}`, { channels: [id] })),
    );
    const all = (ms: number) => sectors.slice(0, 6).map(() => ms);
    const report = reportOf(searched, { 'bell-0': all(2.6), 'bell-1': all(-2.6) });
    const { settings, summary, gap } = await advise(searched, [report], solve);
    // Each of the two is out, and no lever moves both.
    expect(settings.map(({ adjuster }) => adjuster)).toEqual(['lever-bell-0', 'lever-bell-1']);
    expect(gap).toBe(0);
    expect(summary).not.toMatch(/proven|search/);
  });

  it('says nothing of it where the settings are proven the best', async () => {
    const { summary, proven } = await advise(machine, [reportOf(machine, { gong: [-7] })], solve);
    expect(proven).toBe(true);
    expect(summary).not.toMatch(/proven|search/);
  });

  it('says nothing of it where they are proven to be as good as the best', () => {
    const belief = beliefFromTakes(machine, [reportOf(machine, { gong: [-7] })]);
    const settings = [{ adjuster: 'lever', unit: 'shim', installed: -2, proposed: 5 }];
    const predicted = [{ channel: 'gong', sector: 'A', beforeMs: -7, afterMs: 0, ci95Ms: 1 }];
    const numbers = {
      settings,
      predicted,
      worstBeforeMs: 7,
      worstAfterMs: 0,
      obstacles: [],
      turnsToResolve: null,
      othersOut: false,
      toRecord: [],
      isConflict: false,
      isCut: false,
      risk: { sure: 0, mayLeave: 0 },
      isKept: true,
      isHeldBack: false,
      movedPins: [],
      worst: { where: 'gong in sector A', meanMs: 0 },
    };
    const plan = (gap: number | null) =>
      summarise(belief, { outcome: 'within-tolerance', settings: [5], proven: false, gap }, numbers);
    const sure = 'Change 1 adjuster; every group should come within tolerance, the worst mean at 0.0 ms.';
    expect(plan(0.004)).toBe(sure);
    expect(plan(0)).toBe(sure);
    for (const gap of [null, 0.89])
      expect(plan(gap)).toBe(`${sure} The settings were found by search; they are not proven the best.`);
  });
});

describe('what the next session brings', () => {
  const behind = (id: string, access: string) => ({
    ...lever,
    id: `lever-${id}`,
    shifts: { channels: [id] },
    installed: 3,
    min: 0,
    max: 6,
    access,
  });
  const plain = machineOf(
    [block, { id: 'gong' }, { id: 'bell' }, { id: 'plate' }],
    ['A'],
    [behind('gong', 'east'), behind('bell', 'west')],
  );
  const access = [
    { id: 'east', openMinutes: 20, changeMinutes: 3 },
    { id: 'west', openMinutes: 12, changeMinutes: 2 },
  ];
  const timed = { ...plain, description: machineSchema.parse({ ...plain.description, access }) };
  const said = async (plate: number) => {
    const report = reportOf(timed, { gong: [3], bell: [-2.6], plate: [plate] });
    const { summary, work } = await advise(timed, [report], solve, {}, { minutes: 25 });
    return { summary, next: work!.session!.next! };
  };

  it('is promised where the worst mean comes down', async () => {
    const { summary, next } = await said(0);
    expect(next.worstBeforeMs!).toBeGreaterThan(next.worstAfterMs + 1);
    expect(summary).toMatch(/and bring 1 more mean within tolerance and the worst mean to 0\.\d ms\./);
  });

  it('is what comes in where nothing moves what is worst, and nothing where none does', async () => {
    const { summary, next } = await said(4.2);
    expect(next.settings).toHaveLength(1);
    expect([next.worstBeforeMs, next.worstAfterMs]).toEqual([4.2, 4.2]);
    expect(summary).toContain('and bring 1 more mean within tolerance.');
    const session = { minutes: 25, wholeMinutes: 37, next: { ...next, outAfter: next.outBefore } };
    expect(meansWords({ minutes: 23, steps: [], session }, null, null).join(' ')).not.toContain(
      'next session',
    );
  });
});

describe('a take of which nothing was measured', () => {
  const nothing = { ...reportOf(machine, { gong: [1] }), groups: [] };
  const mirrored = finding('mirrored-pattern', 'the strikes fit the pattern entered from its end');

  it('has the reason that its finding knows, with how to mend it', async () => {
    const { summary } = await advise(machine, [{ ...nothing, findings: [mirrored] }], solve);
    expect(summary).toMatch(
      /^Nothing was measured that advice could rest on: the strikes fit the pattern entered from its end; .+\.$/,
    );
  });

  it('has none where none is known', async () => {
    const { summary } = await advise(machine, [nothing], solve);
    expect(summary).toBe('Nothing was measured that advice could rest on.');
  });
});
