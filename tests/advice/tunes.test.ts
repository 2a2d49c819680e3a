// Several tunes on one barrel: pins are each tune's own, adjusters are common, and settings are the best over all tunes.
import { describe, expect, it } from 'vitest';
import { advise } from '../../analysis/advice/advise.ts';
import { doubtsOf } from '../../analysis/advice/doubt-words.ts';
import { beliefFromTakes } from '../../analysis/advice/learn.ts';
import { didItWork } from '../../analysis/advice/outcome.ts';
import { withoutCopies } from '../../analysis/advice/takes.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { ofTune, withItsTune } from '../../analysis/machine/tune.ts';
import { compareReports } from '../../analysis/report/compare.ts';
import { renderComparison } from '../../analysis/report/comparison-text.ts';
import { historyOf } from '../../analysis/report/history.ts';
import { pinsText, tunesPinsTexts } from '../../analysis/report/freshness.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { adviceSchema, type Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { allSettings, block, latenessWith, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();

const plain = machineOf(
  [block, { id: 'gong' }, { id: 'bell' }],
  ['A', 'B'],
  [
    shim('joint', { sectors: ['B'] }, { max: 6 }),
    shim('lever-gong', { channels: ['gong'] }, { max: 6 }),
    shim('lever-bell', { channels: ['bell'] }, { max: 6 }),
  ],
);

/** The same pins a step further on for the second tune. */
const machine: Machine = {
  ...plain,
  description: machineSchema.parse({ ...plain.description, refitMs: 0 }),
  tune: 'march',
  tunes: [
    { name: 'march', pattern: 'march.csv', patternFile: 'march.csv', pins: plain.pins },
    {
      name: 'waltz',
      pattern: 'waltz.csv',
      patternFile: 'waltz.csv',
      pins: plain.pins.map((pin) => ({ ...pin, step: pin.step + 1 })),
    },
  ],
};

type Lateness = Readonly<Record<string, readonly number[]>>;

function take(
  of: Machine,
  tune: string | undefined,
  lateness: Lateness,
  { day, settings = {} }: { day: number; settings?: Readonly<Record<string, number>> },
): Report {
  const pins = ofTune(of, tune).pins.map(({ step, channel }) => ({
    channel: of.description.channels[channel].id,
    step,
    count: 6,
    meanMs: lateness[of.description.channels[channel].id]?.[step < 10 ? 0 : 1] ?? 0,
    ci95Ms: 0.2,
    repeatabilityMs: 0.2,
  }));
  const recorded = `2026-01-0${day}`;
  const report = reportOf(of, lateness, 0.1, settings);
  return {
    ...report,
    take: `${day}-${tune ?? 'one'}`,
    recorded,
    pins,
    ...(tune === undefined ? {} : { tune }),
  };
}

describe('settings for several tunes', () => {
  it.each([
    [
      { gong: [3, 3], bell: [-2, -2] },
      { gong: [0, 0], bell: [-4, -4] },
    ],
    [
      { gong: [5, 1], bell: [0, -4] },
      { gong: [1, 1], bell: [1, -3] },
    ],
    [
      { gong: [5.5, 8.5], bell: [0, 3] },
      { gong: [2.5, 5.5], bell: [-1, 2] },
    ],
  ] as [Lateness, Lateness][])('are the best over all, by every setting there is: %o, %o', async (a, b) => {
    const march = take(machine, 'march', a, { day: 1 });
    const waltz = take(machine, 'waltz', b, { day: 2 });
    const advice = adviceSchema.parse(await advise(machine, [march, waltz], solve));
    const chosen = machine.description.adjusters.map(
      ({ id, installed }) => advice.settings.find(({ adjuster }) => adjuster === id)?.proposed ?? installed,
    );
    const worst = (settings: readonly number[], of: readonly Report[] = [march, waltz]) =>
      Math.max(...of.flatMap((each) => latenessWith(machine, each, settings).map(Math.abs)));
    const least = Math.min(...[...allSettings(machine)].map((settings) => worst(settings)));
    // Within tolerance the cheapest change is taken; beyond it, what is nearly the least.
    expect(worst(chosen)).toBeLessThanOrEqual(Math.max(2, least * 1.08 + 0.1));
    const { rows, missing } = advice.tunes!;
    expect(missing).toEqual([]);
    expect(rows.map(({ tune }) => tune)).toEqual(['waltz', 'march']);
    expect(rows[0].worstAfterMs).toBeCloseTo(worst(chosen, [waltz]), 1);
    expect(rows[1].worstAfterMs).toBeCloseTo(worst(chosen, [march]), 1);
    for (const { aloneMs, worstAfterMs } of rows) expect(aloneMs).toBeLessThanOrEqual(worstAfterMs);
    expect(advice.summary).toMatch(
      /These are for all tunes together \(waltz, march\): their worst means come to \d\.\d, \d\.\d ms; each tune alone could have \d\.\d, \d\.\d ms\./,
    );
    expect(advice.predicted).toHaveLength(6);
  });

  it('know from the newest take of each tune where it stands after a change that only another tune heard', () => {
    const before = [
      take(machine, 'march', { gong: [6, 6], bell: [0, 0] }, { day: 1 }),
      take(machine, 'waltz', { gong: [5, 5], bell: [1, 1] }, { day: 2 }),
    ];
    const settings = { 'lever-gong': 0 };
    const done: Machine = {
      ...machine,
      description: machineSchema.parse({
        ...machine.description,
        adjusters: machine.description.adjusters.map((one) =>
          one.id === 'lever-gong' ? { ...one, installed: 0 } : one,
        ),
      }),
    };
    // A shim does 0.8 of what geometry says.
    const after = take(done, 'march', { gong: [3.6, 3.6], bell: [0, 0] }, { day: 3, settings });
    const belief = beliefFromTakes(done, [...before, after]);
    const lever = belief.effects[1];
    expect(lever.from).toBe('takes');
    expect(Math.abs(lever.factor - 0.8)).toBeLessThan(0.06);
    const [waltz] = belief.others;
    const gong = waltz.groups.find(({ channel, sector }) => channel === 1 && sector === 0)!;
    expect(Math.abs(gong.meanMs - 2.6)).toBeLessThan(0.25);
    expect(gong.ci95Ms).toBeGreaterThan(0.1);
    // What became of the march's pins is held against the march, not against the waltz that was recorded last.
    const outcome = didItWork(done, [...before, after])!;
    expect(outcome.since).toBe('1-march');
    expect(didItWork(machine, before)).toBeNull();
  });

  it.each([
    ['march waltz march', 2, /between takes 1-march and 3-march,/],
    ['march waltz waltz march', 3, /between takes 1-march and 4-march,/],
    // The waltz's takes say that it had not happened by the third, if the waltz moved at all.
    [
      'waltz march waltz march',
      3,
      /between takes 2-march and 4-march \(between takes 3-waltz and 4-march if all tunes moved\),/,
    ],
    ['waltz march waltz march waltz', 3, /between takes 3-waltz and 4-march,/],
    ['march march waltz', 1, /between takes 1-march and 2-march,/],
  ])('of %s a movement lies between the takes that can tell, not those of other tunes', (order, at, when) => {
    // Each tune stands where it stands: only a take of the same one tells a movement.
    const reports = order
      .split(' ')
      .map((tune, i) =>
        take(machine, tune, { gong: [i < at ? 0 : 6, i < at ? 0 : 6], bell: [0, 0] }, { day: i + 1 }),
      );
    const belief = beliefFromTakes(machine, reports);
    const [{ kind, message, since }] = doubtsOf(belief, belief.rounds);
    expect(kind).toBe('moved-unnoted');
    expect(message).toMatch(when);
    expect(since).toBe(reports[at].take);
  });

  it('a tune out of tolerance keeps the others from being called well', async () => {
    const locked: Machine = {
      ...machine,
      description: machineSchema.parse({
        ...machine.description,
        adjusters: machine.description.adjusters.map((one) => ({ ...one, locked: true })),
      }),
    };
    const march = take(locked, 'march', { gong: [9, 9], bell: [0, 0] }, { day: 1 });
    const waltz = take(locked, 'waltz', { gong: [0, 0], bell: [0, 0] }, { day: 2 });
    const advice = await advise(locked, [march, waltz], solve);
    expect(advice.step).not.toBe('good-enough');
    expect(advice.summary).toContain(
      'Every group of this tune lies within tolerance, and not every one of another',
    );
    expect(advice.summary).not.toContain('nothing to change');
    const both = await advise(locked, [{ ...march, groups: waltz.groups, pins: march.pins }, waltz], solve);
    expect(both.step).toBe('good-enough');
  });

  it('name the tune of which no take was measured', async () => {
    const waltz = take(machine, 'waltz', { gong: [0, 0], bell: [0, 0] }, { day: 2 });
    const advice = await advise(machine, [waltz], solve);
    expect(advice.tunes!.missing).toEqual(['march']);
    expect(advice.summary).toContain('No take of march was measured: nothing is planned for it yet.');
  });

  it('a machine with one pattern has the advice that it had', async () => {
    const one = { ...plain, description: machine.description };
    const reports = [
      take(one, undefined, { gong: [3, 3], bell: [-2, -2] }, { day: 1 }),
      take(one, undefined, { gong: [3.1, 3], bell: [-2.1, -2] }, { day: 2 }),
    ];
    const advice = await advise(one, reports, solve);
    expect(advice.tunes).toBeUndefined();
    expect(advice.summary).not.toContain('tune');
    // A second tune that nobody has recorded changes no number of it.
    const named = reports.map((report) => ({ ...report, tune: 'march' }));
    const second = await advise(machine, named, solve);
    const { summary } = advice;
    expect({ ...second, tunes: undefined, summary }).toEqual({ ...advice, tunes: undefined });
  });
});

describe('a take of another tune', () => {
  const march = take(machine, 'march', { gong: [3, 3], bell: [0, 0] }, { day: 1 });
  const waltz = take(machine, 'waltz', { gong: [0, 0], bell: [0, 0] }, { day: 2 });

  it('is not compared, and the comparison says why', () => {
    const comparison = compareReports(march, waltz);
    expect(comparison.groups).toEqual([]);
    expect(renderComparison(comparison)).toContain(
      'They are takes of different tunes (march, waltz): their pins are others, and no group is compared.',
    );
    expect(compareReports(march, march).groups.length).toBeGreaterThan(0);
  });

  it('is no line of a tune’s history', () => {
    const [, gong] = historyOf(machine, [march, waltz]);
    expect(gong.lines.map(({ take: name }) => name)).toEqual(['2-waltz']);
  });

  it('says nothing in a history of channels that its tune has no pin of', () => {
    const [first, second] = machine.tunes!;
    const thinned = { ...second, pins: second.pins.filter(({ channel }) => channel !== 2) };
    const names = historyOf({ ...machine, tunes: [first, thinned] }, [march, waltz]).map(
      ({ channel }) => channel,
    );
    expect(names).toEqual(['block', 'gong']);
  });

  it('is of its own tune though it was analysed when the machine had one pattern, where its pins are just that tune’s', () => {
    const before = { ...waltz, take: '0-before', recorded: '2025-12-31', tune: undefined };
    expect(withItsTune(before, machine).tune).toBe('waltz');
    expect(withItsTune(before, plain).tune).toBeUndefined();
    const other = { ...before, pins: before.pins.slice(1) };
    expect(withItsTune(other, machine).tune).toBeUndefined();
    const takes = (reports: readonly Report[]) =>
      historyOf(machine, reports)[1].lines.map(({ take: name }) => name);
    expect(takes([before, march, waltz])).toEqual(['0-before', '2-waltz']);
    expect(takes([march, waltz, before])).toEqual(['2-waltz', '0-before']);
    expect(compareReports(before, waltz).groups.length).toBeGreaterThan(0);
    expect(compareReports(before, march).tunes).toEqual(['one that is not named', 'march']);
    expect(tunesPinsTexts(machine)).toContain(pinsText(plain));
  });

  it('is learnt from beside those that name the tune', async () => {
    const before = { ...march, take: '0-before', recorded: '2025-12-31', tune: undefined };
    const named = await advise(machine, [{ ...before, tune: 'march' }, waltz], solve);
    expect(await advise(machine, [before, waltz], solve)).toEqual(named);
  });

  it('is no copy, whatever its numbers', () =>
    expect(withoutCopies([march, { ...march, take: 'again', tune: 'waltz' }]).copies).toEqual([]));

  it('has pins of its own, and a change of any tune’s pins is seen', () => {
    expect(ofTune(machine, 'waltz')).toBe(ofTune(machine, 'waltz'));
    expect(ofTune(machine, 'waltz').pins[0].step).toBe(1);
    expect(ofTune(machine, 'waltz').description.pattern).toBe('waltz.csv');
    expect(ofTune(machine, 'march')).toBe(machine);
    expect(ofTune(plain, undefined)).toBe(plain);
    const [first, second] = machine.tunes!;
    const moved = { ...machine, tunes: [first, { ...second, pins: first.pins }] };
    expect(pinsText(moved)).not.toBe(pinsText(machine));
  });
});
