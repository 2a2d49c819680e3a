// Every program that advice has solved for tempi, tunes, kept levels and what a session reaches, solved again by Debian's glpk.
import { describe, expect, it } from 'vitest';
import { advise } from '../../analysis/advice/advise.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import type { IntegerSolver } from '../../analysis/ports.ts';
import type { Report } from '../../analysis/results/results.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { glpk, noGlpk } from './glpk.ts';
import { block, machineOf, reportOf, shim } from './small.ts';

const solver = nodeSolver();
const tolerance = 1e-6;

/** @returns how many programs were solved for the advice, each to the optimum that glpk finds */
async function comparedWithGlpk(machine: Machine, takes: readonly Report[]): Promise<number> {
  let compared = 0;
  const solve: IntegerSolver = async (model, options) => {
    const found = await solver(model, options);
    if (found.status === 'optimal') {
      const optimum = glpk(model);
      expect(Math.abs(found.objective! - optimum)).toBeLessThan(tolerance * Math.max(1, Math.abs(optimum)));
      compared++;
    }
    return found;
  };
  await advise(machine, takes, solve);
  return compared;
}

const described = (machine: Machine, more: object): Machine => ({
  ...machine,
  description: machineSchema.parse({ ...machine.description, ...more }),
});
const drop = {
  id: 'drop-gong',
  unit: 'mm',
  perUnit: { dropMm: 5, dropHeightMm: 100 },
  shifts: { channels: ['gong'] },
  installed: 0,
  min: -6,
  max: 6,
};
const levers = [
  shim('joint', { sectors: ['B'] }, { max: 6 }),
  shim('lever-gong', { channels: ['gong'] }, { max: 6 }),
  shim('lever-bell', { channels: ['bell'] }, { max: 6 }),
];
const plain = machineOf([block, { id: 'gong' }, { id: 'bell' }], ['A', 'B'], [...levers, drop]);
const late = { gong: [4, 5], bell: [-3, -2] };

describe.skipIf(noGlpk)('glpk on all programs of one piece of advice', () => {
  it('for several tempi', async () => {
    const machine = described(plain, { tempi: [12, 15, 18], refitMs: 0 });
    const takes = [12, 15, 18].map((bpm, i) => ({
      ...reportOf(machine, { gong: [4 + i, 5 + i], bell: [-3, -2 - i] }, 0.05),
      take: `take-${i}`,
      recorded: `2026-0${i + 1}-01`,
      tempo: { bpm, bpmCi95: 0.001, secondsPerTurn: 150 / bpm },
    }));
    expect(await comparedWithGlpk(machine, takes)).toBeGreaterThan(0);
  });

  it('for several tunes', async () => {
    const tunes = ['march', 'waltz'].map((name, i) => ({
      name,
      pattern: `${name}.csv`,
      patternFile: `${name}.csv`,
      pins: plain.pins.map((pin) => ({ ...pin, step: pin.step + i })),
    }));
    const machine: Machine = { ...plain, tune: 'march', tunes };
    const takes = tunes.map(({ name }, i) => ({
      ...reportOf(machine, { gong: [4 - 2 * i, 5], bell: [-3, -2 - i] }),
      take: name,
      tune: name,
      recorded: `2026-01-0${i + 1}`,
    }));
    expect(await comparedWithGlpk(machine, takes)).toBeGreaterThan(0);
  });

  it('for a level that is kept', async () => {
    const gong = { id: 'gong', keepLevel: { withinDb: 0.5, dropHeightMm: 100 } };
    const machine = machineOf([block, gong, { id: 'bell' }], ['A', 'B'], [...levers, drop]);
    expect(await comparedWithGlpk(machine, [reportOf(machine, late)])).toBeGreaterThan(0);
  });

  it('for what lies in the drawer, behind what has to be opened', async () => {
    const machine = described(plain, {
      adjusters: plain.description.adjusters.map((one, a) => ({ ...one, access: a < 2 ? 'east' : 'west' })),
      access: [
        { id: 'east', openMinutes: 20, changeMinutes: 3 },
        { id: 'west', openMinutes: 12, changeMinutes: 2 },
      ],
      stock: [
        { mm: 0.2, count: 1 },
        { mm: 0.1, count: 2 },
      ],
    });
    expect(await comparedWithGlpk(machine, [reportOf(machine, late)])).toBeGreaterThan(0);
  });
});
