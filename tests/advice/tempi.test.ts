// Several tempi: machines whose delay in time and in angle is known, planned for all their tempi and tried against every setting.
import { describe, expect, it } from 'vitest';
import { advise } from '../../analysis/advice/advise.ts';
import { driveTable } from '../../analysis/advice/drive.ts';
import { fallMs } from '../../analysis/machine/effects.ts';
import { withTargets } from '../../analysis/machine/target.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { adviceSchema, type Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { allSettings, block, machineOf, reportOf, shim } from './small.ts';

const solve = nodeSolver();

/** Two and a half beats a turn: 10 s at 15 beats a minute. */
const turnS = (bpm: number) => 150 / bpm;
const tempi = [12, 15, 18];

const drop = {
  id: 'drop',
  unit: 'mm',
  perUnit: { dropMm: 10, dropHeightMm: 100 },
  shifts: { channels: ['gong'] },
  installed: 0,
  min: -4,
  max: 4,
};

function machineWith(adjusters: readonly object[], more: object = {}): Machine {
  const machine = machineOf([block, { id: 'gong' }], ['A'], adjusters);
  return { ...machine, description: machineSchema.parse({ ...machine.description, refitMs: 0, ...more }) };
}

/** What the gong is late by at a tempo, ms, as installed: 1 ms a second of the turn, and a fall that is longer by `delayMs`. */
const truthMs = (delayMs: number, bpm: number) => delayMs - (delayMs / 10) * turnS(bpm) + 0.15 * turnS(bpm);

function takes(machine: Machine, delayMs: number, at: readonly number[], meantMs = 0): Report[] {
  return at.map((bpm, i) => ({
    ...reportOf(machine, { gong: [truthMs(delayMs, bpm) - meantMs] }, 0.05),
    take: `take-${i}`,
    recorded: `2026-0${i + 1}-01`,
    tempo: { bpm, bpmCi95: 0.001, secondsPerTurn: turnS(bpm) },
  }));
}

/** Largest lateness over the tempi with these settings, by physics alone: a lever's unit is 0.1 ms a second of the turn. */
function worstMs(machine: Machine, delayMs: number, settings: readonly number[]): number {
  const { adjusters } = machine.description;
  return Math.max(
    ...tempi.map((bpm) => {
      const moved = adjusters.reduce((sum, { id, installed, perUnit }, a) => {
        if (id === 'drop' && 'dropMm' in perUnit) {
          const { dropHeightMm, dropMm } = perUnit;
          return sum + fallMs(dropHeightMm + settings[a] * dropMm) - fallMs(dropHeightMm);
        }
        return sum + 0.1 * turnS(bpm) * (settings[a] - installed);
      }, 0);
      return Math.abs(truthMs(delayMs, bpm) + moved);
    }),
  );
}

describe('settings for several tempi', () => {
  it.each([0, 6, 18, -25])('are the best there are, with a fall that is %d ms longer', async (delayMs) => {
    const machine = machineWith([shim('lever', { channels: ['gong'] }), drop], { tempi });
    const advice = adviceSchema.parse(await advise(machine, takes(machine, delayMs, [12, 15, 18]), solve));
    const chosen = machine.description.adjusters.map(
      ({ id, installed }) => advice.settings.find(({ adjuster }) => adjuster === id)?.proposed ?? installed,
    );
    const all = [...allSettings(machine)].map((settings) => worstMs(machine, delayMs, settings));
    const least = Math.min(...all);
    const got = worstMs(machine, delayMs, chosen);
    // Within tolerance the cheapest change is taken; beyond it, what is nearly the least.
    expect(got).toBeLessThanOrEqual(Math.max(2, least * 1.08 + 0.1));
    const worstAfter = Math.max(...advice.tempi!.rows.map(({ worstAfterMs }) => worstAfterMs!));
    expect(Math.abs(worstAfter - got)).toBeLessThan(0.3);
    for (const { aloneMs, worstAfterMs } of advice.tempi!.rows)
      expect(aloneMs!).toBeLessThanOrEqual(worstAfterMs!);
  });

  it('name the channel that forbids more, and what would have to be built otherwise', async () => {
    const machine = machineWith([shim('lever', { channels: ['gong'] })], { tempi });
    const advice = await advise(machine, takes(machine, 40, [12, 15, 18]), solve);
    // T from 8.33 to 12.5 s, tolerance 2 ms: |d| may be 2·(12.5 + 8.33)/(12.5 − 8.33) = 10 ms.
    const [forbid] = advice.tempi!.forbids;
    expect(forbid.channel).toBe('gong');
    expect(forbid.allowedMs).toBeCloseTo(10, 6);
    expect(Math.abs(forbid.delayMs - 40)).toBeLessThan(1.5);
    expect(advice.summary).toMatch(/At 12, 15, 18 beats a minute the worst means come to /);
    expect(advice.summary).toMatch(
      /these tempi allow 10\.0 ms within its tolerance\. Its fall or flight would have to take (29|30|31)\.\d ms shorter/,
    );
  });

  it('are not planned for a tempo that the takes do not tell of', async () => {
    const machine = machineWith([shim('lever', { channels: ['gong'] })], { tempi });
    const advice = await advise(machine, takes(machine, 6, [15]), solve);
    const [slow, own, fast] = advice.tempi!.rows;
    expect([slow.unsure, own.unsure, fast.unsure]).toEqual([['gong'], [], ['gong']]);
    expect([slow.worstAfterMs, fast.worstAfterMs]).toEqual([null, null]);
    expect(advice.summary).toContain(
      'At 12, 18 beats a minute the takes do not tell (gong): record a take there',
    );
  });

  it('a machine that names none has the advice that it had', async () => {
    const machine = machineWith([shim('lever', { channels: ['gong'] }), drop]);
    const advice = await advise(machine, takes(machine, 40, [12, 18, 15]), solve);
    expect(advice.tempi).toBeUndefined();
    expect(advice.summary).not.toContain('beats a minute');
  });
});

it('what is meant is the same at every tempo', () => {
  const drive = { beatsPerOutputTurn: 1, stages: [{ name: 'belt', ratio: 2 }] };
  const own = machineWith([shim('lever', { channels: ['gong'] })], { drive });
  const meant = machineWith([shim('lever', { channels: ['gong'] })], {
    drive,
    channels: [block, { id: 'gong', targetMs: 8 }],
  });
  const aimed = { ...meant, pins: withTargets(meant.pins, meant.description, 'pattern.csv') };
  const measured = takes(own, 12, [12, 18]);
  const late = (machine: Machine, reports: readonly Report[]) =>
    driveTable(machine, reports, tempi).rows.map(
      ({ channels }) => channels.find(({ channel }) => channel === 'gong')!.latenessMs,
    );
  const against = measured.map((report) => ({
    ...report,
    groups: report.groups.map((group) =>
      group.channel === 'gong' ? { ...group, targetMs: 8, meanMs: group.meanMs! - 8 } : group,
    ),
  }));
  const plain = late(own, measured);
  for (const reports of [measured, against])
    late(aimed, reports).forEach((ms, i) => expect(ms).toBeCloseTo(plain[i] - 8, 6));
});

it('a compromise that would spoil a tempo is told with its figures, and all is not called well for the tempo of the take', async () => {
  const machine = machineWith([shim('lever', { channels: ['gong'] }, { min: 0, max: 9 })], { tempi });
  const lateMs: Readonly<Record<number, number>> = { 12: 6, 15: 1, 18: -1.8 };
  const reports = [12, 15, 18].map((bpm, i) => ({
    ...reportOf(machine, { gong: [lateMs[bpm]] }, 0.05),
    take: `take-${i}`,
    recorded: `2026-0${i + 1}-01`,
    tempo: { bpm, bpmCi95: 0.001, secondsPerTurn: turnS(bpm) },
  }));
  const { summary, step, settings } = await advise(machine, reports, solve);
  expect(settings).toEqual([]);
  expect(step).toBe('out-of-reach');
  expect(summary).not.toMatch(/every group lies within tolerance/i);
  expect(summary).toMatch(
    /The worst over all tempi could come to \d\.\d ms \(lever at \d\), but that takes gong in sector A at 18 beats a minute out of tolerance, so it is not proposed\./,
  );
});

describe('what is in tolerance at one tempo does not leave it for what stays out at another', () => {
  const joint = shim('joint', { channels: ['gong', 'bell'] }, { max: 6 });
  const smallDrop = { ...drop, min: -2, max: 2 };
  const ids = ['gong', 'bell'];
  // By channel: how much longer it falls than the reference, ms, and what it is late by at 15 beats a minute.
  const cases: [string, readonly object[], Record<string, readonly [number, number]>][] = [
    ['where less than the least worst keeps more of them', [joint], { gong: [-12.7, 1.3], bell: [2.4, 2.4] }],
    [
      'where a striker falls through another height',
      [joint, smallDrop],
      { gong: [-6.39, -0.72], bell: [4.87, -2.89] },
    ],
  ];

  it.each(cases)('%s', async (_, adjusters, of) => {
    const plain = machineOf([block, { id: 'gong' }, { id: 'bell' }], ['A'], adjusters);
    const description = machineSchema.parse({ ...plain.description, refitMs: 0, tempi });
    const machine = { ...plain, description };
    const lateMs = (id: string, bpm: number) => {
      const [delayMs, at15Ms] = of[id];
      return delayMs + ((at15Ms - delayMs) * turnS(bpm)) / 10;
    };
    const reports = [12, 18, 15].map((bpm, i) => ({
      ...reportOf(machine, { gong: [lateMs('gong', bpm)], bell: [lateMs('bell', bpm)] }, 0.05),
      take: `take-${i}`,
      recorded: `2026-0${i + 1}-01`,
      tempo: { bpm, bpmCi95: 0.001, secondsPerTurn: turnS(bpm) },
    }));
    const advice = await advise(machine, reports, solve);
    const installed = description.adjusters.map((adjuster) => adjuster.installed);
    const chosen = description.adjusters.map(
      ({ id }, a) => advice.settings.find(({ adjuster }) => adjuster === id)?.proposed ?? installed[a],
    );
    const out = (settings: readonly number[]) =>
      tempi.flatMap((bpm) =>
        ids.map((id) => {
          const moved = description.adjusters.reduce((sum, { perUnit, shifts }, a) => {
            if (shifts.channels?.includes(id) !== true) return sum;
            return 'dropMm' in perUnit
              ? sum + fallMs(100 + settings[a] * 10) - fallMs(100)
              : sum + 0.1 * turnS(bpm) * (settings[a] - installed[a]);
          }, 0);
          return Math.abs(lateMs(id, bpm) + moved) > 2 + 1e-6;
        }),
      );
    const [before, after] = [out(installed), out(chosen)];
    const count = (rows: readonly boolean[]) => rows.filter(Boolean).length;
    expect(before.some((isOut, g) => !isOut && after[g])).toBe(false);
    // Of all settings that keep what is in tolerance none leaves fewer out.
    const keeping = [...allSettings(machine)]
      .map(out)
      .filter((then) => then.every((o, g) => before[g] || !o));
    expect(count(after)).toBe(Math.min(...keeping.map(count)));
  });
});
