// Advice that spoils nothing, waits where hearing is in doubt, and never contradicts the verdict above it.
import { describe, expect, it } from 'vitest';
import { adviceFindings, advise, didItWork } from '../../analysis/advice/advise.ts';
import { surely } from '../../analysis/advice/sure.ts';
import { newestOf, withoutCopies } from '../../analysis/advice/takes.ts';
import type { Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { seededRandom } from '../../samples/random.ts';
import { block, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();
const lever = (extra: object = {}) => shim('lever', { channels: ['gong'] }, { max: 12, ...extra });
const machine = machineOf([block, { id: 'gong' }, { id: 'bell' }], ['A', 'B'], [lever()]);

describe('a sector that is a whole step late', () => {
  const sectors = ['A', 'B', 'C', 'D'];
  const ids = ['gong', 'bell', 'drum', 'plate'];
  const joints = [
    shim('joint-AB', { sectors: ['B', 'C', 'D'] }),
    shim('joint-BC', { sectors: ['C', 'D'] }),
    shim('joint-CD', { sectors: ['D'] }),
  ];
  const levers = ids.map((id) => shim(`lever-${id}`, { channels: [id] }));
  const whole = machineOf([block, ...ids.map((id) => ({ id }))], sectors, [...joints, ...levers]);
  const random = seededRandom(12);
  const lateness = Object.fromEntries(
    ids.map((id) => [id, sectors.map((s) => random.between(-1, 1) + (s === 'C' ? 125 : 0))]),
  );

  it('is set aside, and the twelve groups that are in tolerance stay there', async () => {
    const advice = await advise(whole, [reportOf(whole, lateness)], solve);
    expect(advice.setAside!.map(({ channel, sector }) => `${channel} ${sector}`)).toEqual(
      ids.map((id) => `${id} C`),
    );
    const others = advice.predicted.filter(({ sector }) => sector !== 'C');
    expect(others.every(({ afterMs }) => Math.abs(afterMs!) <= 2)).toBe(true);
    expect(advice.summary).toContain('all else is tuned as if they were not there');
  });

  it('does not keep another group from being tuned', async () => {
    const also = { ...lateness, bell: lateness.bell.map((ms, s) => (s === 2 ? ms : ms + 4)) };
    const advice = await advise(whole, [reportOf(whole, also)], solve);
    expect(advice.settings.map(({ adjuster }) => adjuster)).toContain('lever-bell');
    const bell = advice.predicted.filter(({ channel, sector }) => channel === 'bell' && sector !== 'C');
    expect(bell.every(({ afterMs }) => Math.abs(afterMs!) <= 2)).toBe(true);
  });
});

describe('what nothing brings in', () => {
  const levers = ['gong', 'bell'].map((id) => shim(`lever-${id}`, { channels: [id] }));
  const joint = shim('joint-AB', { sectors: ['B'] }, { installed: 4 });
  const two = machineOf([block, { id: 'gong' }, { id: 'bell' }], ['A', 'B'], [joint, ...levers]);
  const after = async (lateness: Parameters<typeof reportOf>[1]) => {
    const advice = await advise(two, [reportOf(two, lateness)], solve);
    const aside = advice.setAside!.map(({ channel, sector }) => `${channel} ${sector}`);
    const rest = advice.predicted.filter(({ channel, sector }) => !aside.includes(`${channel} ${sector}`));
    return { aside, rest: rest.map(({ afterMs }) => Math.abs(afterMs!)) };
  };

  it('even alone makes no other group worse: all else is tuned as if it were not there', async () => {
    const { aside, rest } = await after({ gong: [2.6, 30], bell: [-2.6, 30] });
    expect(aside).toEqual(['gong B', 'bell B']);
    expect(Math.max(...rest.slice(1))).toBeLessThanOrEqual(2);
  });

  it('together with the others is set aside where that brings all of them in', async () => {
    const { aside, rest } = await after({ gong: [0.5, 14], bell: [3, 0.5] });
    expect(aside).toEqual(['gong B']);
    expect(Math.max(...rest)).toBeLessThanOrEqual(2);
  });

  it('is not to be had from an adjuster that is only left alone for a while', async () => {
    const locked = machineOf([block, { id: 'gong' }], ['A'], [lever({ installed: 8, locked: true })]);
    const advice = await advise(locked, [reportOf(locked, { gong: [5] })], solve);
    expect([advice.settings, advice.step]).toEqual([[], 'out-of-reach']);
  });
});

describe('an interval that is wider than the tolerance', () => {
  const proposed = async (meanMs: number, ci95Ms: number) => {
    const far = machineOf([block, { id: 'gong' }], ['A', 'B'], [lever({ installed: 40, max: 80 })]);
    return advise(far, [reportOf(far, { gong: [meanMs, meanMs] }, { gong: ci95Ms })], solve);
  };

  it('asks for another take where a move may do harm, and for the move where it cannot', async () => {
    expect(await proposed(7, 5)).toMatchObject({ step: 'not-resolvable', settings: [] });
    expect((await proposed(7, 0.3)).settings).toMatchObject([{ proposed: 33 }]);
    expect((await proposed(30, 5)).settings).toHaveLength(1);
  });
});

describe('the tolerance', () => {
  it('is one rule for all widths: a hair of interval changes nothing', async () => {
    const changes = async (ci95Ms: number) =>
      (await advise(machine, [reportOf(machine, { gong: [1.9, 1.9] }, { gong: ci95Ms })], solve)).settings;
    expect(await changes(1.99)).toEqual([]);
    expect(await changes(2.01)).toEqual([]);
    expect(await changes(0.3)).toHaveLength(1);
  });

  it('judges the decision, not each unit', async () => {
    const fine = machineOf([block, { id: 'gong' }], ['A'], [lever({ perUnit: { mm: 0.025 }, installed: 6 })]);
    const unsure = await advise(fine, [reportOf(fine, { gong: [1.2] }, { gong: 1.5 })], solve);
    expect([unsure.step, unsure.settings, unsure.obstacles]).toEqual(['not-resolvable', [], []]);
    // 1.4 ms of an interval, and a unit is 0.25 ms: six of them are what it takes.
    const sure = await advise(fine, [reportOf(fine, { gong: [3] }, { gong: 1.4 })], solve);
    expect(sure.settings).toMatchObject([{ adjuster: 'lever', installed: 6, proposed: 0 }]);
  });
});

describe('the newest take always counts', () => {
  const far = machineOf([block, { id: 'gong' }, { id: 'bell' }], ['A', 'B'], [lever({ installed: 9 })]);
  const quiet = (gong: number): Report => reportOf(far, { gong: [gong, gong], bell: [0.2, 0.2] });

  it('after eight quiet takes a mended striker is out of tolerance, and is put right', async () => {
    const reports = [...Array.from({ length: 8 }, () => quiet(1)), quiet(7.9)];
    const advice = await advise(far, reports, solve);
    expect(advice.step).toBe('change');
    expect(advice.predicted.find(({ channel }) => channel === 'gong')!.afterMs).toBeLessThan(2);
    expect(adviceFindings(far, advice).map(({ kind }) => kind)).toContain('moved-unnoted');
  });

  it('"nothing to change" never stands below a group that is surely out', async () => {
    const random = seededRandom(5);
    for (let i = 0; i < 12; i++) {
      const reports = Array.from({ length: 1 + random.integer(4) }, () =>
        reportOf(
          machine,
          { gong: [3 * random.normal(), 3 * random.normal()], bell: [random.normal(), 2 * random.normal()] },
          0.6,
        ),
      );
      const advice = await advise(machine, reports, solve);
      const out = reports
        .at(-1)!
        .groups.some(({ meanMs, ci95Ms }) => ['late', 'early'].includes(String(surely(meanMs!, ci95Ms!, 2))));
      if (out) expect(advice.step).not.toBe('good-enough');
    }
  });
});

describe('a channel that could not be heard', () => {
  it('stands first, and nothing is dismantled for it', async () => {
    const advice = await advise(machine, [reportOf(machine, { gong: [null, null], bell: [0, 0] })], solve);
    expect(advice.summary).toBe(
      'Gong could not be measured; do not dismantle for it yet. The rest lies within tolerance: leave the settings, and record another take before all is called well.',
    );
    expect(advice.step).toBe('not-resolvable');
    expect(adviceFindings(machine, advice)).toMatchObject([{ kind: 'not-heard', channel: 'gong' }]);
  });

  it('is named beside what was as predicted', () => {
    const before = { ...reportOf(machine, { gong: [3, 3] }), take: 'first', settings: { lever: 6 } };
    const after = { ...reportOf(machine, { gong: [0, 0], bell: [null, null] }), take: 'second' };
    expect(didItWork(machine, [before, after])!.line).toContain(
      'as predicted, and bell could not be measured',
    );
  });

  it('a group in doubt is not acted on', async () => {
    const report = reportOf(machine, { gong: [9, 9] });
    const groups = report.groups.map((group) =>
      group.channel === 'gong' ? { ...group, doubt: 'its pins are off by a whole step alike' } : group,
    );
    const advice = await advise(machine, [{ ...report, groups }], solve);
    expect(advice.settings).toEqual([]);
    expect(advice.unheard).toEqual([{ channel: 'gong', why: 'its pins are off by a whole step alike' }]);
    const all = await advise(machine, [reportOf(machine, { gong: [null, null], bell: [null, null] })], solve);
    expect(all.summary).toBe(
      '2 channels could not be measured (gong, bell); do not dismantle for them yet. Nothing but the reference was measured: leave the settings, and record another take.',
    );
  });
});

describe('a group that could not be measured, in a channel of which others could', () => {
  const doubt = 'all pins of sector B lie off alike';
  const doubted = (report: Report): Report => ({
    ...report,
    groups: report.groups.map((group) =>
      group.sector === 'B' && group.channel !== 'block' ? { ...group, doubt } : group,
    ),
  });

  it('in doubt, it stands in the summary, and nobody is told that all is well', async () => {
    const advice = await advise(
      machine,
      [doubted(reportOf(machine, { gong: [0, 90], bell: [0, 90] }))],
      solve,
    );
    expect(advice.unmeasured).toEqual([
      { channel: 'gong', sector: 'B', why: doubt },
      { channel: 'bell', sector: 'B', why: doubt },
    ]);
    expect([advice.step, advice.settings, advice.unheard]).toEqual(['not-resolvable', [], []]);
    expect(advice.summary).toBe(
      'What sector B shows of gong, bell cannot be relied on (all pins of sector B lie off alike); do not dismantle for it yet. ' +
        'The rest lies within tolerance: leave the settings, and record another take before all is called well.',
    );
  });

  it('too seldom heard, it stands there too, beside what is only roughly known', async () => {
    const [few, none] = [reportOf(machine, { gong: [0, null] }, 2.5), reportOf(machine, { gong: [0, null] })];
    const rough = await advise(machine, [few], solve);
    expect(rough.summary).toMatch(
      /^What sector B shows of gong cannot be relied on \(too few of its strikes/,
    );
    expect(rough.summary).toContain('No change to the rest that this take can resolve; ');
    const groups = none.groups.map((group) => (group.meanMs === null ? { ...group, count: 0 } : group));
    const silent = await advise(machine, [{ ...none, groups }], solve);
    expect(silent.summary).toContain('of gong cannot be relied on (none of its strikes was heard)');
    const missing = none.groups.filter(({ meanMs }) => meanMs !== null);
    expect((await advise(machine, [{ ...none, groups: missing }], solve)).unmeasured).toEqual(
      silent.unmeasured,
    );
    for (const { summary, step } of [rough, silent]) {
      expect(summary).not.toMatch(/nothing to change|every group/i);
      expect(step).toBe('not-resolvable');
    }
  });

  it('what is changed for the others promises nothing of it', async () => {
    const own = machineOf([block, { id: 'gong' }, { id: 'bell' }], ['A', 'B'], [lever()]);
    const advice = await advise(own, [doubted(reportOf(own, { gong: [2.5, 90] }))], solve);
    expect(advice.step).toBe('change');
    expect(advice.summary).toContain('what was measured should come within tolerance');
    expect(advice.summary).not.toMatch(/every group/i);
  });

  it('is named beside what was as predicted', () => {
    const before = { ...reportOf(machine, { gong: [3, 3] }), take: 'first', settings: { lever: 6 } };
    const after = { ...doubted(reportOf(machine, { gong: [0, 0] })), take: 'second' };
    expect(didItWork(machine, [before, after])!.line).toContain(
      'as predicted, and sector B of gong and bell could not be measured',
    );
  });
});

describe('which takes count', () => {
  const random = seededRandom(3);
  const chance = () =>
    Array.from({ length: 10 }, (_, step) => ({
      channel: 'gong',
      step,
      count: 4,
      meanMs: 3 + 0.2 * random.normal(),
      ci95Ms: 0.3,
      repeatabilityMs: 0.3,
    }));
  const take = (name: string, pins: Report['pins'], lever: number): Report => ({
    ...reportOf(machine, { gong: [3, 3] }, 0.2, { lever }),
    take: name,
    pins,
  });
  const pins = chance();
  const first = take('may', pins, 3);

  it('the same recording twice is named and not learnt from', async () => {
    const copy = take(
      'june',
      pins.map((pin) => ({ ...pin, meanMs: pin.meanMs + 1e-4 })),
      8,
    );
    expect(withoutCopies([first, copy]).copies).toEqual([{ take: 'june', of: 'may' }]);
    const advice = await advise(machine, [first, copy], solve);
    expect(advice.effects![0].from).toBe('geometry');
    expect(advice.summary).toMatch(
      /^Take june holds the same recording as take may: nothing is learnt from it/,
    );
    expect(adviceFindings(machine, advice)[0].kind).toBe('same-recording');
    expect(didItWork(machine, [first, copy])).toBeNull();
  });

  it('another recording of the same machine is none', () => {
    for (let i = 0; i < 50; i++) expect(withoutCopies([first, take('june', chance(), 3)]).copies).toEqual([]);
  });

  it('where dates are missing it is said which is the newest, and why', () => {
    const dated = { ...first, recorded: '2026-05-02' };
    expect(newestOf([{ ...first, take: 'solo' }, dated])).toEqual({
      take: 'may',
      why: 'it has the latest date, and takes without one count as older: solo',
    });
    expect(newestOf([first, { ...first, take: 'two' }])!.why).toContain('the last by name');
    expect(newestOf([dated, { ...dated, take: 'two' }])).toBeUndefined();
  });
});
