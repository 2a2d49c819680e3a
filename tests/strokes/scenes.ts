/**
 * Small machines on which something is off by whole steps, as the hits of a take alone show it: the machine that is
 * played differs from the one that is described. No audio.
 */
import type { Study } from '../../analysis/checks/check.ts';
import type { Machine, Pin } from '../../analysis/machine/machine.ts';
import { sectorOf } from '../../analysis/machine/effects.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import type { Take } from '../../analysis/take/take.ts';
import { play, type Played, type Strike, type Truth } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from '../rig/machine.ts';
import { hitsOf, takeOf } from './laid.ts';

export interface Scene {
  readonly seed: number;
  /** Share of steps at which a channel has a pin: 0.05 is a sparse pattern, 0.3 a dense one. */
  readonly density?: number;
  readonly sectors?: number;
  readonly strikers?: number;
  readonly turns?: number;
  readonly bpm?: number;
  /** What is true of the machine that is played, beside its ordinary lateness. */
  readonly channelMs?: Readonly<Record<string, number>>;
  readonly sectorMs?: Readonly<Record<string, number>>;
  /** Where the pin of the played machine sits; the description keeps its own. */
  readonly fitted?: (pin: Pin, machine: Machine) => number;
  /** Share of strikes that do not sound. */
  readonly missing?: number;
  /** Which channel a strike is taken for. */
  readonly takenFor?: (channel: number) => number;
  readonly heard?: (
    strikes: readonly Strike[],
    played: Played,
  ) => readonly Pick<Strike, 'timeS' | 'channel'>[];
  readonly description?: Take['description'];
  readonly machine?: Machine;
  /** As the builder entered it, where that is not the machine that plays. */
  readonly described?: Machine;
}

const leastPins = 4;

/** 96 steps, four a beat: 125 ms a step at 120 beats a minute. The reference strikes each beat and is not on the barrel. */
export function sceneMachine({ seed, density = 0.15, sectors = 3, strikers = 4 }: Scene): Machine {
  const channels = ['clave', 'drum', 'bell', 'plate', 'gong', 'block', 'tube', 'bar', 'shell'];
  const machine = rigMachine({ channels: channels.slice(0, strikers + 1), sectors, density, seed });
  const random = seededRandom(seed).split('pattern');
  const { steps, stepsPerBeat } = machine.description.barrel;
  // Unlike the rig's, a channel may strike at two steps in a row: that is what whole steps are mistaken in.
  const pins = machine.description.channels.flatMap((_, channel) => {
    if (channel === 0)
      return Array.from({ length: steps / stepsPerBeat }, (__, beat) => ({
        step: stepsPerBeat * beat,
        channel,
        line: null,
      }));
    const own = new Set<number>();
    while (own.size < Math.max(leastPins, Math.round(density * steps))) own.add(random.integer(steps));
    return [...own].map((step) => ({ step, channel, line: null }));
  });
  pins.sort((a, b) => a.step - b.step || a.channel - b.channel);
  return { ...machine, pins };
}

export interface Seen {
  readonly study: Study;
  readonly machine: Machine;
  readonly played: Played;
}

export function see(scene: Scene): Seen {
  const random = seededRandom(scene.seed).split('scene');
  const machine = scene.machine ?? sceneMachine(scene);
  const described = scene.described ?? machine;
  const { fitted } = scene;
  const pins = fitted ? machine.pins.map((pin) => ({ ...pin, step: fitted(pin, machine) })) : machine.pins;
  const within = (ms: number) => random.between(-ms, ms);
  const ids = machine.description.channels.map(({ id }) => id);
  const truth: Truth = {
    channelMs: {
      ...Object.fromEntries(ids.slice(1).map((id) => [id, within(8)])),
      ...scene.channelMs,
    },
    sectorMs: {
      ...Object.fromEntries(machine.description.barrel.sectors.slice(1).map(({ id }) => [id, within(3)])),
      ...scene.sectorMs,
    },
    pinMs: machine.pins.map(() => 0.4 * random.normal()),
    repeatabilityMs: Object.fromEntries(ids.map((id) => [id, 0.3])),
    missingProbability: scene.missing ?? 0.01,
  };
  const how = {
    bpm: scene.bpm ?? 120,
    startPosition: random.uniform() * machine.description.barrel.steps,
    turns: scene.turns ?? 5,
  };
  const played = play({ ...machine, pins }, truth, how, random.split('play'));
  const strikes = (scene.heard ?? ((all) => all))(played.strikes, played)
    .map(({ timeS, channel }) => ({ timeS, channel: scene.takenFor?.(channel) ?? channel }))
    .sort((a, b) => a.timeS - b.timeS);
  const take = takeOf({ tempo: how.bpm, ...scene.description });
  const hits = { ...hitsOf(strikes), track: new Int32Array(strikes.length).fill(-1) };
  const hearing = { hits, tracks: [] };
  const strokes = layOnBarrel(hearing, described, take);
  const groups = summariseGroups(strokes, described);
  const pinned = summarisePins(strokes, described);
  const study = { machine: described, take, hearing, strokes, groups, pins: pinned };
  return { study, machine, played };
}

/** Every pin of a channel one step on, or as many as asked. */
export function channelBy(channel: number, by: number) {
  return (pin: Pin, { description }: Machine): number =>
    pin.channel === channel
      ? (pin.step + by + description.barrel.steps) % description.barrel.steps
      : pin.step;
}

/** Every pin of a sector that is on the barrel, the sector of the description's. */
export function sectorBy(sector: number, by: number) {
  return (pin: Pin, { description }: Machine): number => {
    const { steps } = description.barrel;
    const moves = description.channels[pin.channel].onBarrel && sectorOf(description, pin.step) === sector;
    return moves ? (pin.step + by + steps) % steps : pin.step;
  };
}
