/** The level kept: plans within a bound on loudness against the plain ones, and against all settings tried one after the other. */
import { levelSpan } from '../../analysis/advice/level-span.ts';
import { advise } from '../../analysis/advice/advise.ts';
import { dropHeightMm, dropLevelDb } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { IntegerSolver } from '../../analysis/ports.ts';
import { seededRandom } from '../../samples/random.ts';
import { allSettings, block, latenessWith, machineOf, reportOf, shim } from '../advice/small.ts';
import { figure, type Table } from './bench.ts';

const withinDb = 0.5;
const heightMm = 120;
const toleranceMs = 2;
const ci95Ms = 0.1;

/** A striker with a lever of 1 ms a shim and a drop height of 120 mm, 0.65 ms a mm. */
function machineWith(keepsLevel: boolean): Machine {
  const gong = keepsLevel ? { id: 'gong', keepLevel: { withinDb, dropHeightMm: heightMm } } : { id: 'gong' };
  return machineOf(
    [block, gong],
    ['A', 'B'],
    [
      shim('lever', { channels: ['gong'] }, { installed: 2, max: 4 }),
      {
        id: 'drop',
        unit: 'mm',
        perUnit: { dropMm: 3, dropHeightMm: heightMm },
        shifts: { channels: ['gong'] },
        installed: 0,
        min: -10,
        max: 10,
      },
    ],
  );
}

interface Row {
  readonly worstMs: number;
  readonly levelDb: number;
  readonly isHeightMoved: boolean;
  readonly gap: number;
  /** Whether any allowed settings bring every mean within tolerance, its interval with it. */
  readonly isPossible: boolean;
}

export async function levelTable(machines: number, solve: IntegerSolver): Promise<Table> {
  const plans = [
    { name: 'plain plan', machine: machineWith(false), rows: [] as Row[] },
    { name: `level kept within ${withinDb} dB`, machine: machineWith(true), rows: [] as Row[] },
  ];
  for (let seed = 1; seed <= machines; seed++) {
    const random = seededRandom(seed);
    const lateMs = random.between(-12, 12);
    const lateness = { gong: [lateMs, lateMs + random.between(-1, 1)] };
    for (const { machine, rows } of plans) {
      const { adjusters } = machine.description;
      const report = reportOf(machine, lateness, ci95Ms);
      const advice = await advise(machine, [report], solve);
      const settings = adjusters.map(
        ({ id, installed }) => advice.settings.find(({ adjuster }) => adjuster === id)?.proposed ?? installed,
      );
      const worst = (of: readonly number[]) => Math.max(...latenessWith(machine, report, of).map(Math.abs));
      const { lo, hi } = levelSpan(machine, 1) ?? { lo: -Infinity, hi: Infinity };
      const allowed = [...allSettings(machine)].filter(
        ([, drop]) => drop === 0 || (drop >= lo && drop <= hi),
      );
      rows.push({
        worstMs: worst(settings),
        levelDb: Math.abs(dropLevelDb(heightMm, dropHeightMm(adjusters[1], settings[1]))),
        isHeightMoved: settings[1] !== adjusters[1].installed,
        gap: advice.proven ? 0 : (advice.gap ?? NaN),
        isPossible: allowed.some((of) => worst(of) + ci95Ms <= toleranceMs),
      });
    }
  }
  const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
  return {
    title: `${machines} simulated strikers with a lever and a drop height, up to 13 ms off: loudness by the height proposed`,
    columns: [
      'plan',
      'worst mean ms',
      'largest change of level dB',
      'height moved',
      'within tolerance',
      'possible by trying all',
      'largest gap',
    ],
    rows: plans.map(({ name, rows }) => [
      name,
      figure(mean(rows.map(({ worstMs }) => worstMs))),
      figure(Math.max(...rows.map(({ levelDb }) => levelDb))),
      `${rows.filter(({ isHeightMoved }) => isHeightMoved).length} of ${rows.length}`,
      `${rows.filter(({ worstMs }) => worstMs + ci95Ms <= toleranceMs).length} of ${rows.length}`,
      `${rows.filter(({ isPossible }) => isPossible).length} of ${rows.length}`,
      figure(Math.max(...rows.map(({ gap }) => gap))),
    ]),
    notes: [
      'Effects are those of geometry, which a plan does not take for sure: it may leave out what only just comes within tolerance.',
    ],
  };
}
