/** Faults to add to a sound machine, each just three times the take's own 95 % interval for what it is. */
import { sectorWidths } from '../../analysis/checks/placed-pins.ts';
import { sectorEdgeInterval } from '../../analysis/checks/sector-edges.ts';
import { shafts } from '../../analysis/checks/shafts.ts';
import { wobbleInterval } from '../../analysis/checks/wobbles.ts';
import { driftOf } from '../../analysis/checks/tempo-drift.ts';
import { pinAgainstOthers } from '../../analysis/checks/pin-error.ts';
import { pairsOf } from '../../analysis/checks/apart.ts';
import type { Study } from '../../analysis/checks/check.ts';
import { sectorOf } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Finding } from '../../analysis/results/results.ts';
import type { Random } from '../../samples/random.ts';
import type { Case } from './cases.ts';
import { simulate } from './simulate.ts';

const times = 3;

export interface Where {
  readonly channel?: string;
  readonly step?: number;
  readonly foundStep?: number;
}

export interface Fault {
  readonly name: string;
  readonly kind: Finding['kind'];
  /** null where this machine cannot have it. */
  readonly add: (
    sound: Case,
    plain: Study,
    seed: number,
  ) => { readonly study: Study; readonly where: Where } | null;
  readonly raised?: (finding: Finding, where: Where) => boolean;
}

export const faults: readonly Fault[] = [
  {
    name: 'one pin off',
    kind: 'pin-error',
    add({ machine, truth, how, random }, plain, seed) {
      const { channels } = machine.description;
      const group = (i: number) =>
        machine.pins.filter(
          (pin) =>
            pin.channel === machine.pins[i].channel &&
            sectorOf(machine.description, pin.step) === sectorOf(machine.description, machine.pins[i].step),
        ).length;
      const fit = [...machine.pins.keys()].filter(
        (i) => machine.pins[i].channel !== machine.reference && group(i) >= 3 && plain.pins[i].count >= 3,
      );
      if (fit.length === 0) return null;
      const at = random.pick(fit);
      const sign = random.pick([-1, 1]);
      const { channel, step } = machine.pins[at];
      const { ci95Ms } = pinAgainstOthers(plain, channel, step)!;
      const offMs = sign * times * ci95Ms;
      const pinMs = machine.pins.map((_, i) => (i === at ? offMs : 0));
      const { study } = simulate(machine, { ...truth, pinMs }, how, seed);
      return { study, where: { channel: channels[channel].id, step } };
    },
    raised: (finding, where) => finding.channel === where.channel && finding.step === where.step,
  },
  {
    name: 'first two steps of every sector',
    kind: 'sector-edge',
    add({ machine, truth, how }, plain, seed) {
      const zone = { side: 'first' as const, sector: null, steps: 2 };
      const interval = sectorEdgeInterval(plain, zone);
      if (interval === null) return null;
      const { sectors } = machine.description.barrel;
      const { channels } = machine.description;
      const pinMs = machine.pins.map(({ channel, step }) => {
        const from = step - sectors[sectorOf(machine.description, step)].from;
        return channels[channel].onBarrel && from < 2 ? times * interval : 0;
      });
      return { study: simulate(machine, { ...truth, pinMs }, how, seed).study, where: {} };
    },
  },
  {
    name: 'last steps of one sector',
    kind: 'sector-edge',
    add({ machine, truth, how }, plain, seed) {
      const { sectors, steps } = machine.description.barrel;
      const reach = Math.max(1, Math.floor(0.2 * Math.min(...sectorWidths(machine))));
      const interval = sectorEdgeInterval(plain, { side: 'last', sector: 1, steps: reach });
      if (interval === null) return null;
      const { channels } = machine.description;
      const end = (sectors[2]?.from ?? steps) - 1;
      const pinMs = machine.pins.map(({ channel, step }) =>
        channels[channel].onBarrel && step <= end && end - step < reach ? -times * interval : 0,
      );
      return { study: simulate(machine, { ...truth, pinMs }, how, seed).study, where: {} };
    },
  },
  {
    name: 'a shaft of the drive',
    kind: 'shaft-wobble',
    add({ machine, truth, how, random }, plain, seed) {
      const shaft = random.pick(shafts(machine).slice(1));
      const interval = wobbleInterval(plain, shaft);
      if (interval === null) return null;
      const { steps, stepsPerBeat } = machine.description.barrel;
      const periodTurns = (shaft.beatsPerTurn * stepsPerBeat) / steps;
      const turnMs = 1000 * plain.strokes.rotation.secondsPerTurn;
      const fraction = (times * interval * 2 * Math.PI) / (periodTurns * turnMs);
      const wobble = { fraction, periodTurns, phase: 6 * random.uniform() };
      return { study: simulate(machine, { ...truth, wobble }, how, seed).study, where: {} };
    },
  },
  {
    name: 'a drive that slows down',
    kind: 'tempo-drift',
    add({ machine, truth, how }, plain, seed) {
      const drift = driftOf(plain);
      if (drift === null) return null;
      const driftPerTurn = (times * drift.ci95Ppm) / 1e6 / (how.turns - 1 / 8);
      return { study: simulate(machine, { ...truth, driftPerTurn }, how, seed).study, where: {} };
    },
  },
  {
    name: 'two strikers apart',
    kind: 'apart',
    add({ machine, truth, how }, plain, seed) {
      const [pair] = pairsOf(plain);
      if (pair === undefined) return null;
      const [a, b] = machine.description.together![0];
      const apartMs = 2 + times * pair.ci95Ms;
      const channelMs = { ...truth.channelMs, [a]: 0, [b]: apartMs };
      return { study: simulate(machine, { ...truth, channelMs }, how, seed).study, where: {} };
    },
  },
  {
    name: 'a feed that runs out at half the take',
    kind: 'feed-ran-out',
    add({ machine, truth, how, random }, plain, seed) {
      const channel = 1 + random.integer(machine.description.channels.length - 1);
      const { id } = machine.description.channels[channel];
      const { hits, turn, step } = plain.strokes;
      const missing = [...hits.channel.keys()]
        .filter((i) => hits.channel[i] === channel && i > hits.count / 2)
        .map((i) => ({ channel: id, step: step[i], turn: turn[i] }));
      const { study } = simulate(machine, { ...truth, missing }, how, seed);
      return { study, where: { channel: id } };
    },
    raised: (finding, where) => finding.channel === where.channel,
  },
  {
    name: 'a striker that rebounds after a tenth of its strokes',
    kind: 'rebound',
    add({ machine, truth, how, random }, _, seed) {
      const channel = 1 + random.integer(machine.description.channels.length - 1);
      const delayS = random.between(0.04, 0.12);
      const { study } = simulate(machine, truth, how, seed, (played) =>
        played.strikes
          .filter((strike) => strike.channel === channel)
          .filter((_strike, i) => i % 10 === 3)
          .map(({ timeS }) => ({ timeS: timeS + delayS + 0.002 * random.normal(), channel, levelDb: -24 })),
      );
      return { study, where: { channel: machine.description.channels[channel].id } };
    },
    raised: (finding, where) => finding.channel === where.channel,
  },
  {
    name: 'one stroke that did not sound',
    kind: 'missing-hit',
    add({ machine, truth, how, random }, plain, seed) {
      const { hits, turn, step } = plain.strokes;
      const i = random.pick([...hits.channel.keys()].filter((at) => step[at] >= 0));
      const { id } = machine.description.channels[hits.channel[i]];
      const missing = [{ channel: id, step: step[i], turn: turn[i] }];
      const { study } = simulate(machine, { ...truth, missing }, how, seed);
      return { study, where: { channel: id, step: step[i] } };
    },
    raised: isAt,
  },
  {
    name: 'one hit that nobody programmed',
    kind: 'extra-hit',
    add({ machine, truth, how, random }, _, seed) {
      const at = random.pick(freeSteps(machine, random));
      if (at === undefined) return null;
      // Anywhere between two steps, in a turn that is whole.
      const position = (1 + random.integer(2)) * machine.description.barrel.steps + at.step;
      const extra = [{ channel: at.id, position: position + random.between(-0.5, 0.5) }];
      const { study } = simulate(machine, { ...truth, extra }, how, seed);
      return { study, where: { channel: at.id } };
    },
    raised: (finding, where) => finding.channel === where.channel,
  },
  {
    name: 'a pin in the next hole',
    kind: 'misplaced-pin',
    add: (sound, _, seed) => misplacedBy(sound, seed, (random) => random.pick([-1, 1])),
    raised: isAt,
  },
  {
    name: 'a pin two or three holes off',
    kind: 'misplaced-pin',
    add: (sound, _, seed) => misplacedBy(sound, seed, (random) => random.pick([-3, -2, 2, 3])),
    raised: isAt,
  },
];

function isAt(finding: Finding, where: Where): boolean {
  return (
    finding.channel === where.channel && finding.step === where.step && finding.foundStep === where.foundStep
  );
}

/** Pins of a channel whose own next pins are further off than this, in steps, are not taken for each other. */
const clear = 2;

/** Steps of a channel chosen by chance that lie clear of its pins. */
function freeSteps(machine: Machine, random: Random): { id: string; step: number }[] {
  const { barrel, channels } = machine.description;
  const channel = random.integer(channels.length);
  const own = machine.pins.filter((pin) => pin.channel === channel).map((pin) => pin.step);
  return Array.from({ length: barrel.steps }, (_, step) => ({ id: channels[channel].id, step })).filter(
    ({ step }) => own.every((pin) => around(machine, step, pin) >= clear),
  );
}

/** A pin of a striker by chance, so many holes off, where that is clear of the channel's other pins. */
function misplacedBy({ machine, truth, how, random }: Case, seed: number, by: (random: Random) => number) {
  const { barrel, channels } = machine.description;
  const holes = by(random);
  const fit = machine.pins.filter(({ channel, step }) => {
    const others = machine.pins.filter((pin) => pin.channel === channel && pin.step !== step);
    return (
      channel !== machine.reference &&
      others.every((pin) => around(machine, pin.step, step + holes) >= clear) &&
      step + holes >= 0 &&
      step + holes < barrel.steps
    );
  });
  if (fit.length === 0) return null;
  const { channel, step } = random.pick(fit);
  const where = { channel: channels[channel].id, step, foundStep: step + holes };
  const { study } = simulate(machine, { ...truth, misplaced: [where] }, how, seed);
  return { study, where };
}

/** Steps between two places of the barrel, the shorter way round. */
function around(machine: Machine, a: number, b: number): number {
  const { steps } = machine.description.barrel;
  const apart = (((a - b) % steps) + steps) % steps;
  return Math.min(apart, steps - apart);
}
