import { expect, test } from 'vitest';
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { pinErrors, play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';

/** Eight steps, two sectors; one turn takes 8/2 beats, so 4 s at 60 beats a minute. */
const machine: Machine = {
  description: machineSchema.parse({
    name: 'Test',
    barrel: {
      steps: 8,
      stepsPerBeat: 2,
      diameterMm: 1000 / Math.PI,
      sectors: [
        { id: 'A', from: 0 },
        { id: 'B', from: 4 },
      ],
    },
    reference: 'block',
    channels: [{ id: 'block', onBarrel: false }, { id: 'gong' }],
    adjusters: [
      {
        id: 'joint',
        unit: 'shim',
        perUnit: { mm: 0.1 },
        shifts: { sectors: ['B'] },
        installed: 3,
        min: 0,
        max: 9,
      },
      {
        id: 'drop',
        unit: 'mm',
        perUnit: { dropMm: 1, dropHeightMm: 50 },
        shifts: { channels: ['gong'] },
        installed: 0,
        min: -40,
        max: 50,
      },
    ],
  }),
  file: 'machine.jsonc',
  patternFile: 'pattern.csv',
  reference: 0,
  pins: [0, 2, 4, 6].flatMap((step) => [
    { step, channel: 0, line: null },
    { step: step + 1, channel: 1, line: null },
  ]),
};
const how = { bpm: 60, turns: 2 };
const groupOf = (played: ReturnType<typeof play>, channel: number, sector: number | null) =>
  played.groups.find((group) => group.channel === channel && group.sector === sector)!;

test('a perfect machine strikes every half second, in order, with no lateness', () => {
  const { strikes, secondsPerTurn, missing } = play(machine, {}, how, seededRandom(1));
  expect(secondsPerTurn).toBe(4);
  expect(strikes.map((strike) => strike.timeS)).toEqual(Array.from({ length: 16 }, (_, i) => i / 2));
  expect(strikes.every((strike) => strike.trueLatenessMs === 0 && strike.pinned === 'right')).toBe(true);
  expect(missing).toEqual([]);
});

test('channel, sector and pin errors add up, and count from the reference’s mean', () => {
  const pinMs = machine.pins.map((pin) => (pin.step === 1 ? 0.5 : 0));
  const truth = { channelMs: { block: 1, gong: 5 }, sectorMs: { B: -2 }, pinMs };
  const played = play(machine, truth, how, seededRandom(1));
  expect(groupOf(played, 0, null).meanMs).toBe(0);
  expect(groupOf(played, 1, 0).meanMs).toBeCloseTo(4.25, 12);
  expect(groupOf(played, 1, 1).meanMs).toBeCloseTo(2, 12);
  expect(groupOf(played, 1, null).strokesMeanMs).toBeCloseTo(3.125, 12);
  // The first gong is due at 0.5 s and 5.5 ms late; the rotation that makes the reference's mean zero is 1 ms late.
  expect(played.strikes.find((strike) => strike.channel === 1)!.timeS).toBeCloseTo(0.5055, 12);
  expect(played.timeAt(1)).toBeCloseTo(0.501, 12);
});

test('one more shim of 0.1 mm on a rim of 1000 mm that turns in 4 s is 0.4 ms; twice the effect is 0.8 ms', () => {
  const settings = { joint: 4 };
  const once = play(machine, {}, { ...how, settings }, seededRandom(1));
  expect(groupOf(once, 1, 0).meanMs).toBe(0);
  expect(groupOf(once, 1, 1).meanMs).toBeCloseTo(0.4, 12);
  const twice = play(machine, { effectFactor: { joint: 2 } }, { ...how, settings }, seededRandom(1));
  expect(groupOf(twice, 1, 1).meanMs).toBeCloseTo(0.8, 12);
});

test('a drop of 100 mm instead of 50 falls 142.809 − 100.981 ms longer (computed from g = 9.80665 m/s²)', () => {
  const played = play(machine, {}, { ...how, settings: { drop: 50 } }, seededRandom(1));
  expect(groupOf(played, 1, null).meanMs).toBeCloseTo(142.809 - 100.981, 3);
});

test('a misplaced pin is heard elsewhere and stays out of the means', () => {
  const misplaced = [{ channel: 'gong', step: 1, foundStep: 2 }];
  const played = play(machine, { misplaced, channelMs: { gong: 3 } }, how, seededRandom(1));
  const wrong = played.strikes.filter((strike) => strike.pinned === 'misplaced');
  expect(wrong.map((strike) => [strike.step, strike.foundStep, strike.timeS])).toEqual([
    [1, 2, 1.003],
    [1, 2, 5.003],
  ]);
  expect(groupOf(played, 1, 0).pins).toBe(1);
});

test('named missing strikes are silent and move nothing else; extra ones have no pin', () => {
  const repeatabilityMs = { block: 0.3, gong: 0.3 };
  const whole = play(machine, { repeatabilityMs }, how, seededRandom(5)).strikes;
  const truth = {
    repeatabilityMs,
    missing: [{ channel: 'gong', step: 3, turn: 1 }],
    extra: [{ channel: 'gong', position: 9.5 }],
  };
  const played = play(machine, truth, how, seededRandom(5));
  expect(played.missing).toEqual([{ channel: 1, step: 3, turn: 1 }]);
  expect(played.strikes.filter((strike) => strike.pinned === 'none')).toMatchObject([
    { timeS: 4.75, turn: 1, step: -1 },
  ]);
  const kept = whole.filter((strike) => !(strike.step === 3 && strike.turn === 1));
  expect(played.strikes.filter((strike) => strike.pinned === 'right')).toEqual(kept);
});

test('a wobble of one per cent moves the due time by fraction·period/2π at most and leaves lateness alone', () => {
  const wobble = { fraction: 0.01, periodTurns: 1 };
  const { strikes, timeAt } = play(machine, { wobble }, how, seededRandom(1));
  expect(timeAt(2) - 1).toBeCloseTo((0.01 / (2 * Math.PI)) * 4, 12);
  expect(timeAt(8)).toBeCloseTo(4, 12);
  expect(strikes.every((strike) => strike.trueLatenessMs === 0)).toBe(true);
});

test('starting mid-turn, t = 0 is where the take starts and turn 0 the turn it starts in', () => {
  const { strikes } = play(machine, {}, { ...how, startPosition: 4.5, turns: 1 }, seededRandom(1));
  expect(strikes[0]).toMatchObject({ timeS: 0.25, step: 5, turn: 0 });
  expect(strikes.at(-1)).toMatchObject({ timeS: 3.75, step: 4, turn: 1 });
});

test('repeatability and pin errors have the spread asked for, seed 2', () => {
  const { strikes } = play(
    machine,
    { repeatabilityMs: { gong: 0.4 } },
    { bpm: 60, turns: 1000 },
    seededRandom(2),
  );
  const gong = strikes.filter((strike) => strike.channel === 1).map((strike) => strike.trueLatenessMs);
  const sd = Math.sqrt(gong.reduce((sum, x) => sum + x * x, 0) / gong.length);
  // Five standard errors of a standard deviation: 5·0.4/√(2·4000).
  expect(Math.abs(sd - 0.4)).toBeLessThan(0.0224);
  expect(new Set(pinErrors(machine, 0.2, seededRandom(3))).size).toBe(machine.pins.length);
});
