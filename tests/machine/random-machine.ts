/** Machines drawn at random, with faults of the usual size, for tests that must hold on all of them. */
import type { Machine } from '../../analysis/machine/machine.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { pinErrors, play, type Performance, type Played, type Truth } from '../../samples/play.ts';
import { seededRandom, type Random } from '../../samples/random.ts';

export interface RandomTake {
  readonly machine: Machine;
  readonly truth: Truth;
  readonly how: Performance;
  readonly played: Played;
  readonly random: Random;
}

export interface Wishes {
  readonly turns?: number;
  readonly bpm?: number;
  readonly steps?: number;
  readonly stepsPerBeat?: number;
  readonly referenceOnBarrel?: boolean;
  /** Spread of the reference's own pins, ms. */
  readonly referencePinMs?: number;
  /** Largest lateness of a channel, ms. */
  readonly channelMs?: number;
  /** Speed that wobbles by up to this fraction and drifts by up to this a turn. */
  readonly speed?: number;
  readonly misplaced?: boolean;
  readonly missing?: number;
  readonly extra?: number;
  readonly channels?: number;
}

/** The reference strikes on every beat; the others on about two steps in a beat's five, never alike. */
export function randomTake(seed: number, wishes: Wishes = {}): RandomTake {
  const random = seededRandom(seed);
  const stepsPerBeat = wishes.stepsPerBeat ?? random.pick([2, 4, 6, 8]);
  const steps = wishes.steps ?? stepsPerBeat * random.pick([16, 32, 60, 64]);
  const count = wishes.channels ?? 3 + random.integer(5);
  const sectorCount = 1 + random.integer(8);
  const ids = ['ref', ...Array.from({ length: count - 1 }, (_, i) => `c${i}`)];
  const description = machineSchema.parse({
    name: 'Drawn',
    barrel: {
      steps,
      stepsPerBeat,
      diameterMm: 800,
      sectors: Array.from({ length: sectorCount }, (_, i) => ({
        id: `S${i}`,
        from: Math.floor((i * steps) / sectorCount),
      })),
    },
    reference: 'ref',
    channels: ids.map((id, i) => ({ id, onBarrel: i > 0 || wishes.referenceOnBarrel === true })),
  });
  const strikes = (c: number, step: number) =>
    c === 0 ? step % stepsPerBeat === 0 : random.uniform() < 0.5 / stepsPerBeat;
  const pins = ids
    .flatMap((_, channel) =>
      Array.from({ length: steps }, (_, step) => step)
        .filter((step) => strikes(channel, step))
        .map((step) => ({ step, channel, line: null })),
    )
    .sort((a, b) => a.step - b.step || a.channel - b.channel);
  const machine: Machine = {
    description,
    file: 'machine.jsonc',
    patternFile: 'pattern.csv',
    pins,
    reference: 0,
  };

  const size = wishes.channelMs ?? random.between(5, 40);
  const speed = wishes.speed ?? 0.003;
  const turns = wishes.turns ?? random.pick([1.4, 2.3, 4, 6.1]);
  const own = pinErrors(machine, 0.4, random);
  const truth: Truth = {
    channelMs: Object.fromEntries(ids.slice(1).map((id) => [id, random.between(-size, size)])),
    sectorMs: Object.fromEntries(
      description.barrel.sectors.slice(1).map(({ id }) => [id, random.between(-size / 4, size / 4)]),
    ),
    pinMs: own.map((ms, i) => (pins[i].channel === 0 ? (ms / 0.4) * (wishes.referencePinMs ?? 0) : ms)),
    repeatabilityMs: Object.fromEntries(
      ids.map((id, i) => [id, i === 0 ? random.between(0.05, 0.3) : random.between(0.1, 0.6)]),
    ),
    missingProbability: wishes.missing ?? random.between(0, 0.05),
    wobble: { fraction: random.between(0, speed), periodTurns: random.pick([0.27, 0.53, 1.07, 2.14]) },
    driftPerTurn: random.between(-speed, speed),
    extra: Array.from({ length: wishes.extra ?? random.integer(5) }, () => ({
      channel: random.pick(ids.slice(1)),
      position: random.between(0, 3 * steps),
    })),
    misplaced: wishes.misplaced === false ? [] : misplaced(machine, random),
  };
  const how = {
    bpm: wishes.bpm ?? random.between(50, 180),
    startPosition: random.between(0, steps),
    turns,
  };
  return { machine, truth, how, played: play(machine, truth, how, random), random };
}

/** Up to three pins one or two holes off, in holes that are free. */
function misplaced({ description, pins }: Machine, random: Random): NonNullable<Truth['misplaced']> {
  const { steps } = description.barrel;
  const taken = new Set(pins.map(({ channel, step }) => `${channel} ${step}`));
  const moved = new Set<string>();
  return Array.from({ length: random.integer(4) }, () => {
    const pin = random.pick(pins);
    return { ...pin, foundStep: (pin.step + random.pick([-2, -1, 1, 2]) + steps) % steps };
  }).flatMap(({ channel, step, foundStep }) => {
    const hole = `${channel} ${foundStep}`;
    if (channel === 0 || taken.has(hole) || moved.has(`${channel} ${step}`)) return [];
    taken.add(hole);
    moved.add(`${channel} ${step}`);
    return [{ channel: description.channels[channel].id, step, foundStep }];
  });
}
