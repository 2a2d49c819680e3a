import { describe, expect, it } from 'vitest';
import {
  dropLevelDb,
  fallMs,
  impactSpeed,
  latenessChangeMs,
  moves,
  sectorOf,
  secondsPerTurnAt,
  shiftMs,
  standardGravity,
} from '../../analysis/machine/effects.ts';
import type { Adjuster } from '../../analysis/machine/schema.ts';
import { machineOf, smallDescription } from './machine.ts';

type Shape = Partial<Adjuster> & Pick<Adjuster, 'perUnit'>;
const adjuster = (shape: Shape): Adjuster => ({
  id: 'x',
  unit: 'shim',
  shifts: {},
  installed: 0,
  min: 0,
  max: 9,
  ...shape,
});
const oneMs = { perUnit: { ms: 1 } };

describe('free fall', () => {
  // Standard gravity: 3rd CGPM 1901, NIST SP 330 (from memory). The times follow from √(2h/g) and were worked out apart.
  it('takes the published gravity', () => expect(standardGravity).toBe(9.80665));
  it.each([
    [1, 14.281],
    [5, 31.933],
    [10, 45.16],
    [50, 100.981],
    [100, 142.809],
  ])('from %d mm lasts %d ms', (heightMm, ms) => expect(fallMs(heightMm)).toBeCloseTo(ms, 3));
  it.each([0, -3])('from %d mm is not a number', (heightMm) => expect(fallMs(heightMm)).toBeNaN());
});

describe('the blow', () => {
  // Heights of fall and masses with which a hammer's blow has a published energy: IEC 60068-2-75, as tables of test houses have it.
  // Energies are rounded there: 0.25 kg from 200 mm is 0.490 J and is called 0.5 J.
  it.each([
    [56, 0.25, 0.14],
    [80, 0.25, 0.2],
    [140, 0.25, 0.35],
    [200, 0.25, 0.5],
    [280, 0.25, 0.7],
    [400, 0.25, 1],
    [400, 0.5, 2],
    [300, 1.7, 5],
    [200, 5, 10],
    [400, 5, 20],
    [500, 10, 50],
  ])('after %d mm a hammer of %d kg has the energy of the standard, %d J', (heightMm, kg, joule) => {
    const energy = (kg * impactSpeed(heightMm) ** 2) / 2;
    expect(Math.abs(energy / joule - 1)).toBeLessThan(0.025);
  });
  it('is as fast as gravity makes it in the time of the fall', () =>
    expect(impactSpeed(100)).toBeCloseTo((standardGravity * fallMs(100)) / 1000, 12));
  it.each([0, -3])('after %d mm is not a number', (heightMm) => expect(impactSpeed(heightMm)).toBeNaN());
  // The peak of the sound is proportional to the hammer's speed (Palmer & Brown 1991, JASA 90:60): twice the speed, 20·log10(2) dB.
  it('sounds 6.02 dB louder at twice the speed, which takes four times the height', () => {
    expect(impactSpeed(400) / impactSpeed(100)).toBeCloseTo(2, 12);
    expect(dropLevelDb(100, 400)).toBeCloseTo(6.0206, 4);
    expect(dropLevelDb(400, 100)).toBeCloseTo(-6.0206, 4);
    expect(dropLevelDb(190, 190)).toBe(0);
  });
});

describe('the shift of one adjuster', () => {
  const { description } = machineOf();
  it('of a shim is its share of the pin circle times the turn', () => {
    // 0.1 mm of π·100 mm at 30 s a turn: 30000·0.1/314.159265 = 9.5492966 ms, two shims twice that
    const shim = adjuster({ perUnit: { mm: 0.1, leverRatio: 1 } });
    expect(shiftMs(shim, 3, 5, description, 30)).toBeCloseTo(19.0985932, 6);
    expect(shiftMs(shim, 5, 3, description, 30)).toBeCloseTo(-19.0985932, 6);
  });
  it('of a shim scales with the lever and with the diameter where it acts', () => {
    const lever = adjuster({ perUnit: { mm: 0.1, leverRatio: 2.5, atDiameterMm: 250 } });
    expect(shiftMs(lever, 0, 1, description, 30)).toBeCloseTo(9.5492966, 6);
  });
  it('of a ring is its share of its own shaft’s turn', () => {
    // 5° of a shaft that turns 60 times in 30 s: 500 ms · 5/360 = 6.9444 ms
    const ring = adjuster({ perUnit: { degrees: 5, turnsPerBarrelTurn: 60 } });
    expect(shiftMs(ring, 0, 1, description, 30)).toBeCloseTo(6.944444, 5);
  });
  it('of a height is the change of the fall, the same at every tempo and not linear', () => {
    const drop = adjuster({ perUnit: { dropMm: 5, dropHeightMm: 50 }, min: -9 });
    // 50 → 100 mm and 50 → 10 mm, from the table above
    expect(shiftMs(drop, 0, 10, description, 30)).toBeCloseTo(142.809 - 100.981, 2);
    expect(shiftMs(drop, 0, -8, description, 30)).toBeCloseTo(45.16 - 100.981, 2);
    expect(shiftMs(drop, 0, 10, description, 3)).toBe(shiftMs(drop, 0, 10, description, 30));
  });
  it('of a height with nothing left to fall is not a number, in either direction', () => {
    const drop = adjuster({ perUnit: { dropMm: 5, dropHeightMm: 50 }, min: -12 });
    expect(shiftMs(drop, 0, -10, description, 30)).toBeNaN();
    expect(shiftMs(drop, -11, 0, description, 30)).toBeNaN();
  });
  it('in ms is as given', () =>
    expect(shiftMs(adjuster({ perUnit: { ms: -1.5 } }), 1, 4, description, 30)).toBe(-4.5));
});

describe('the barrel', () => {
  it('turns once in its beats', () => {
    // 12 steps at 2 a beat are 6 beats: 3 s at 120 a minute
    expect(secondsPerTurnAt(120, machineOf().description)).toBe(3);
  });
  it('gives each step its sector, the last running on through zero', () => {
    const { description } = machineOf();
    const sectors = Array.from({ length: 12 }, (_, step) => sectorOf(description, step));
    expect(sectors).toEqual([2, 2, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2]);
  });
});

describe('what an adjuster moves', () => {
  const machine = machineOf();
  const moved = (shifts: Adjuster['shifts']) =>
    machine.description.channels.map((_, channel) =>
      [0, 1, 2, null].map((sector) => moves(machine, adjuster({ ...oneMs, shifts }), channel, sector)),
    );
  const all = [true, true, true, true];
  const none = [false, false, false, false];
  it('is everything when it names nothing', () => expect(moved({})).toEqual([all, all, all]));
  it('is every sector of a named channel', () =>
    expect(moved({ channels: ['clap', 'drum'] })).toEqual([all, none, all]));
  it('is every barrel channel in a named sector, none off the barrel', () => {
    const inB = [false, true, false, true];
    expect(moved({ sectors: ['B'] })).toEqual([none, inB, inB]);
  });
  it('is where both meet when it names both', () =>
    expect(moved({ sectors: ['A', 'C'], channels: ['clap', 'bell'] })).toEqual([
      none,
      [true, false, true, true],
      none,
    ]));
});

describe('the change of lateness', () => {
  const change = (machine: ReturnType<typeof machineOf>, shifts: Adjuster['shifts']) => [
    ...latenessChangeMs(machine, adjuster({ ...oneMs, shifts }), 0, 4, 30),
  ];
  it('is the shift where the reference stands still', () =>
    expect(change(machineOf(), { sectors: ['B', 'C'] })).toEqual([0, 0, 0, 0, 4, 4, 0, 4, 4]));
  it('is the other way for all others when the reference is moved', () =>
    expect(change(machineOf(), { channels: ['clap'] })).toEqual([0, 0, 0, -4, -4, -4, -4, -4, -4]));
  it('is nothing when everything moves together', () =>
    expect(change(machineOf(), {})).toEqual([0, 0, 0, 0, 0, 0, 0, 0, 0]));
  it('takes off the mean over the reference’s own pins', () => {
    // the reference is the bell, on the barrel: one pin in A, three in B, so moving B by 4 moves its mean by 3
    const machine = machineOf({ ...smallDescription, reference: 'bell' }, [
      [3, 1],
      [6, 1],
      [7, 1],
      [8, 1],
      [8, 2],
    ]);
    expect(change(machine, { sectors: ['B'] })).toEqual([-3, -3, -3, -3, 1, -3, -3, 1, -3]);
  });
});
