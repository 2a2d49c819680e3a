import { describe, expect, it } from 'vitest';
import { driveTable } from '../../analysis/advice/drive.ts';
import { setpointFor } from '../../analysis/advice/setpoint.ts';
import { secondsPerTurnAt } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Report } from '../../analysis/results/results.ts';
import { machineOf, reportOf } from './small.ts';

const stages = [
  { name: 'gearhead', ratio: 6 },
  { name: 'belt', ratio: 5 },
];

function driven(drive: object | undefined, adjusters: readonly object[] = []): Machine {
  const machine = machineOf([{ id: 'block', onBarrel: false }, { id: 'gong' }], ['A', 'B'], adjusters);
  const description = machineSchema.parse({ ...machine.description, drive });
  return { ...machine, description };
}

/** A take at a tempo: what is due to angle grows with the turn's time, the delay does not. */
function takeAt(machine: Machine, bpm: number, angleMsPerS: number, delayMs: number): Report {
  const secondsPerTurn = secondsPerTurnAt(bpm, machine.description);
  const ms = angleMsPerS * secondsPerTurn + delayMs;
  return { ...reportOf(machine, { gong: [ms, ms] }, 0.1), tempo: { bpm, bpmCi95: 0.01, secondsPerTurn } };
}

describe('the motor’s set-point', () => {
  // Gear-train arithmetic, common practice, no source: 96 × 6 × 5 = 2880.
  it('is the tempo times the ratios', () => {
    const { byRatios, byTakes, withinLimit, fastestBpm } = setpointFor(
      driven({ beatsPerOutputTurn: 1, stages }),
      96,
      [],
    );
    expect({ byRatios, byTakes, withinLimit, fastestBpm }).toEqual({
      byRatios: 2880,
      byTakes: null,
      withinLimit: true,
      fastestBpm: null,
    });
    expect(setpointFor(driven({ beatsPerOutputTurn: 4, stages }), 96, []).byRatios).toBe(720);
  });

  it('learns from what set-points gave', () => {
    const machine = driven({ beatsPerOutputTurn: 1, stages });
    // Asked 2880, and 95 beats a minute came: 1/95 more is needed, 2880 × 96/95.
    const report = { ...takeAt(machine, 95, 0, 0), setpoint: 2880 };
    const { byTakes, slip } = setpointFor(machine, 96, [report]);
    expect(byTakes).toBeCloseTo((2880 * 96) / 95, 6);
    expect(slip).toBeCloseTo(1 / 95, 9);
  });

  it('keeps the motor’s limit and says how fast it can go', () => {
    const limited = setpointFor(driven({ beatsPerOutputTurn: 1, stages, maxSetpoint: 3000 }), 120, []);
    expect(limited).toMatchObject({ byRatios: 3600, withinLimit: false, fastestBpm: 100 });
  });

  it('says in one line where the machine file tells no drive or no stage', () => {
    expect(() => setpointFor(driven(undefined), 96, [])).toThrow(InputProblem);
    expect(() => setpointFor(driven({ beatsPerOutputTurn: 1, stages: [] }), 96, [])).toThrow(
      'machine.jsonc: drive.stages: no stage stands between the motor and the output; name each stage',
    );
  });
});

describe('the machine at another tempo', () => {
  const ring = {
    id: 'ring',
    unit: 'notch',
    perUnit: { degrees: 0.36, turnsPerBarrelTurn: 10 }, // 0.1 ms a notch for each second of a turn
    shifts: { channels: ['block'] },
    installed: 0,
    min: -36,
    max: 36,
  };
  const machine = driven({ beatsPerOutputTurn: 1, stages }, [ring]);

  it('tells delay from angle where takes at two tempi do, and predicts between and beyond', () => {
    const reports = [takeAt(machine, 30, 0.4, 12), takeAt(machine, 60, 0.4, 12)];
    const { rows, delays } = driveTable(machine, reports, [30, 45, 90]);
    const gong = delays.find(({ channel }) => channel === 'gong')!;
    expect(gong.from).toBe('takes');
    expect(gong.delayMs).toBeCloseTo(12, 1);
    expect(Math.abs(gong.delayMs - 12)).toBeLessThan(gong.ci95Ms);
    for (const { bpm, secondsPerTurn, channels } of rows) {
      expect(secondsPerTurn).toBe(secondsPerTurnAt(bpm, machine.description));
      const { latenessMs } = channels.find(({ channel }) => channel === 'gong')!;
      expect(latenessMs).toBeCloseTo(0.4 * secondsPerTurn + 12, 1);
    }
  });

  it('sets the ring so that the worst is least', () => {
    const reports = [takeAt(machine, 30, 0, 12), takeAt(machine, 60, 0, 12)];
    const [row] = driveTable(machine, reports, [60]).rows;
    // 5 s a turn: a notch is 0.5 ms; it delays the reference, and so makes the gong earlier. The gong and the block
    // are both counted, and the block stays at 0: 24 notches bring the gong to 0.
    expect(row.secondsPerTurn).toBe(5);
    expect(row.ring).toMatchObject({ adjuster: 'ring', unit: 'notch', installed: 0 });
    expect(row.ring!.proposed * 0.5).toBeCloseTo(12, 0);
    expect(row.worstWithRingMs).toBeLessThan(0.3);
    expect(row.worstMs).toBeCloseTo(12, 1);
  });

  it('knows little with one tempo, and says so in its interval', () => {
    const { rows, delays } = driveTable(machine, [takeAt(machine, 60, 0.4, 12)], [60, 30]);
    const [same, slower] = rows.map(({ channels }) => channels.find(({ channel }) => channel === 'gong')!);
    expect(same.latenessMs).toBeCloseTo(14, 1);
    expect(same.ci95Ms).toBeLessThan(0.2);
    expect(slower.ci95Ms).toBeGreaterThan(50);
    expect(delays.find(({ channel }) => channel === 'gong')!.from).toBe('physics');
  });

  it('takes a drop height that the machine names as the delay it makes', () => {
    const drop = (id: string, channel: string, dropHeightMm: number) => ({
      id,
      unit: 'mm',
      perUnit: { dropMm: 1, dropHeightMm },
      shifts: { channels: [channel] },
      installed: 0,
      min: -5,
      max: 5,
    });
    const falling = driven({ beatsPerOutputTurn: 1, stages }, [
      drop('a', 'gong', 50),
      drop('b', 'block', 10),
    ]);
    const { delays } = driveTable(falling, [takeAt(falling, 60, 0, 50)], [60]);
    // Free fall from 50 and 10 mm: 100.981 and 45.160 ms (standard gravity; values computed, tests/reference).
    expect(delays.find(({ channel }) => channel === 'gong')!.delayMs).toBeCloseTo(100.981 - 45.16, 2);
  });

  it('tells set-points alone before anything was measured', () => {
    const { rows, delays } = driveTable(machine, [], [96]);
    expect(delays).toEqual([]);
    expect(rows[0]).toMatchObject({
      bpm: 96,
      channels: [],
      ring: null,
      worstMs: null,
      worstWithRingMs: null,
    });
    expect(rows[0].setpoint.byRatios).toBe(2880);
    expect(() => driveTable(machine, [], [0])).toThrow(InputProblem);
  });
});
