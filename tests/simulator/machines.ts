/**
 * tests/simulator/ plays machines with known truth and closes the loop of measuring, advising and changing through the
 * public functions. This file: machines of many sizes, and what is wrong with each.
 */
import type { Machine } from '../../analysis/machine/machine.ts';
import { secondsPerTurnAt, sectorOf, shiftMs } from '../../analysis/machine/effects.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { pinErrors, play, type Truth } from '../../samples/play.ts';
import type { Random } from '../../samples/random.ts';

export interface Faulty {
  readonly machine: Machine;
  readonly truth: Truth;
  readonly bpm: number;
  readonly turns: number;
  /** Standard deviation of where a changed part comes to rest about where it was, ms of its own shift. */
  readonly refitMs: number;
}

/** What an adjuster truly shifts at a setting, ms later than as built. */
export function trueShiftOf({ machine, truth, bpm }: Faulty): (adjuster: number, setting: number) => number {
  const { description } = machine;
  const { adjusters } = description;
  const secondsPerTurn = secondsPerTurnAt(bpm, description);
  return (a, setting) =>
    (truth.effectFactor?.[adjusters[a].id] ?? 1) *
    shiftMs(adjusters[a], adjusters[a].installed, setting, description, secondsPerTurn);
}

const STEPS_PER_SECTOR = 20;

/** 4 to 12 sectors, 4 to 40 channels, a joint a sector, a ring, a lever a channel, some drop heights. */
export function randomMachine(random: Random): Machine {
  const sectors = 4 + random.integer(9);
  const channels = 4 + random.integer(37);
  return machineOf(sectors, channels, Math.min(channels - 1, random.integer(10)), random);
}

/** @param drops how many channels have a drop height to change beside their lever */
export function machineOf(sectors: number, channels: number, drops: number, random: Random): Machine {
  const steps = sectors * STEPS_PER_SECTOR;
  const sectorIds = Array.from({ length: sectors }, (_, s) => `S${s + 1}`);
  const channelIds = Array.from({ length: channels }, (_, c) => (c === 0 ? 'block' : `c${c}`));
  const joints = sectorIds.slice(1).map((_, j) => ({
    id: `joint-${j + 1}`,
    unit: 'shim',
    perUnit: { mm: 0.1 },
    shifts: { sectors: sectorIds.slice(j + 1) },
    installed: 12,
    min: 0,
    max: 24,
  }));
  const description = machineSchema.parse({
    name: 'Simulated',
    barrel: {
      steps,
      stepsPerBeat: 4,
      diameterMm: 880,
      sectors: sectorIds.map((id, s) => ({ id, from: s * STEPS_PER_SECTOR })),
    },
    reference: 'block',
    channels: channelIds.map((id) => ({ id, onBarrel: id !== 'block' })),
    adjusters: [
      ...joints,
      {
        id: 'ring',
        unit: 'notch',
        perUnit: { degrees: 5, turnsPerBarrelTurn: steps / 4 },
        shifts: { channels: ['block'] },
        installed: 0,
        min: -36,
        max: 36,
      },
      ...channelIds.slice(1).map((id) => ({
        id: `lever-${id}`,
        unit: 'shim',
        perUnit: { mm: 0.1 },
        shifts: { channels: [id] },
        installed: 40,
        min: 0,
        max: 80,
      })),
      ...channelIds.slice(1, 1 + drops).map((id) => ({
        id: `drop-${id}`,
        unit: 'mm',
        perUnit: { dropMm: 1, dropHeightMm: 120 + random.integer(100) },
        shifts: { channels: [id] },
        installed: 0,
        min: -20,
        max: 20,
      })),
    ],
    limits: [{ adjusters: joints.map(({ id }) => id), sumMax: 14 * joints.length, why: 'closing gap' }],
  });
  // Two or three pins a sector for each channel, the reference on every beat.
  const pins = channelIds.flatMap((_, channel) =>
    channel === 0
      ? Array.from({ length: steps / 4 }, (_, i) => ({ step: i * 4, channel, line: null }))
      : sectorIds.flatMap((__, s) => {
          const places = random.shuffle(Array.from({ length: STEPS_PER_SECTOR - 2 }, (_, i) => i));
          return places
            .slice(0, 2 + random.integer(2))
            .map((place) => ({ step: s * STEPS_PER_SECTOR + place, channel, line: null }));
        }),
  );
  pins.sort((a, b) => a.step - b.step || a.channel - b.channel);
  return { description, file: 'machine.jsonc', patternFile: 'pattern.csv', pins, reference: 0 };
}

/** Faults such that the worst group is 10 to 40 ms out; effects are 60 to 140 % of geometry. */
export function withFaults(machine: Machine, random: Random): Faulty {
  const { channels, adjusters, barrel } = machine.description;
  const bpm = random.between(80, 160);
  const normals = (ids: readonly string[], sd: number) =>
    Object.fromEntries(ids.map((id) => [id, sd * random.normal()]));
  const strikers = channels.slice(1).map(({ id }) => id);
  const shape: Truth = {
    channelMs: { block: 0, ...normals(strikers, 1) },
    sectorMs: normals(
      barrel.sectors.map(({ id }) => id),
      random.between(0.1, 0.5),
    ),
    pinMs: machine.pins.map(() => 0),
  };
  const quiet = play(machine, shape, { bpm, turns: 1 }, random.split('quiet'));
  const worst = Math.max(
    ...quiet.groups.filter(({ sector }) => sector !== null).map(({ meanMs }) => Math.abs(meanMs)),
  );
  const scale = random.between(10, 40) / worst;
  const scaled = (values: Readonly<Record<string, number>> = {}) =>
    Object.fromEntries(Object.entries(values).map(([id, ms]) => [id, ms * scale]));
  const misplaced = random
    .shuffle(machine.pins.filter(({ channel }) => channel !== 0))
    .slice(0, random.integer(3))
    .flatMap(({ channel, step }) => {
      const foundStep = step + 1;
      const taken = machine.pins.some((pin) => pin.channel === channel && pin.step === foundStep);
      const sameSector =
        sectorOf(machine.description, step) === sectorOf(machine.description, foundStep % barrel.steps);
      return taken || !sameSector ? [] : [{ channel: channels[channel].id, step, foundStep }];
    });
  return {
    machine,
    bpm,
    turns: 4 + random.integer(7),
    refitMs: random.between(0, 0.3),
    truth: {
      channelMs: scaled(shape.channelMs),
      sectorMs: scaled(shape.sectorMs),
      pinMs: pinErrors(machine, random.between(0.1, 0.6), random),
      repeatabilityMs: Object.fromEntries(channels.map(({ id }) => [id, random.between(0.1, 0.6)])),
      misplaced,
      missingProbability: random.between(0, 0.05),
      wobble: { fraction: random.between(0, 0.002), periodTurns: random.between(0.1, 1), phase: 0 },
      builtWith: Object.fromEntries(adjusters.map(({ id, installed }) => [id, installed])),
      effectFactor: Object.fromEntries(adjusters.map(({ id }) => [id, random.between(0.6, 1.4)])),
    },
  };
}

/** What moves the parts that were changed: settings as they truly stand, in units that need not be whole. */
export function refitted(
  faulty: Faulty,
  standing: Readonly<Record<string, number>>,
  changes: Readonly<Record<string, { readonly from: number; readonly to: number }>>,
  random: Random,
): Record<string, number> {
  const { machine, bpm, refitMs, truth } = faulty;
  const secondsPerTurn = secondsPerTurnAt(bpm, machine.description);
  const now = { ...standing };
  for (const adjuster of machine.description.adjusters) {
    const change = changes[adjuster.id];
    if (change === undefined) continue;
    const factor = truth.effectFactor?.[adjuster.id] ?? 1;
    const unitMs = factor * shiftMs(adjuster, change.to, change.to + 1, machine.description, secondsPerTurn);
    now[adjuster.id] += change.to - change.from + (refitMs * random.normal()) / unitMs;
  }
  return now;
}
