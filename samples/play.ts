/**
 * Plays a machine whose every fault is known. In: a machine, what is wrong with it, and how it is played.
 * Out: each strike with its time, and the numbers a perfect measurement would find.
 */
import { moves, secondsPerTurnAt, sectorOf, shiftMs } from '../analysis/machine/effects.ts';
import type { Machine } from '../analysis/machine/machine.ts';
import type { Random } from './random.ts';

/** What is wrong with a machine. Whatever is left out is perfect. All lateness in ms, positive is late. */
export interface Truth {
  /** Channel id → its own lateness with the adjusters as in `builtWith`. */
  readonly channelMs?: Readonly<Record<string, number>>;
  /** Sector id → lateness of all that is on the barrel there. */
  readonly sectorMs?: Readonly<Record<string, number>>;
  /** Beside `machine.pins`: each pin's own error. */
  readonly pinMs?: readonly number[];
  /** Channel id → standard deviation of one pin from turn to turn. */
  readonly repeatabilityMs?: Readonly<Record<string, number>>;
  /** Pins that sit in another hole than the pattern says. */
  readonly misplaced?: readonly {
    readonly channel: string;
    readonly step: number;
    readonly foundStep: number;
  }[];
  /** Chance that a strike does not sound. */
  readonly missingProbability?: number;
  /** Strikes that do not sound. */
  readonly missing?: readonly { readonly channel: string; readonly step: number; readonly turn: number }[];
  /** Strikes without a pin, at an unwrapped position that may lie between steps. */
  readonly extra?: readonly { readonly channel: string; readonly position: number }[];
  /** Speed that rises and falls by ± `fraction` once in `periodTurns`. */
  readonly wobble?: { readonly fraction: number; readonly periodTurns: number; readonly phase?: number };
  /** Change of the time a turn takes from one turn to the next, as a fraction; positive slows down. */
  readonly driftPerTurn?: number;
  /** Adjuster id → setting at which `channelMs` and `sectorMs` hold; absent: the machine's `installed`. */
  readonly builtWith?: Readonly<Record<string, number>>;
  /** Adjuster id → what a unit truly does, as a multiple of what geometry says; absent: 1. */
  readonly effectFactor?: Readonly<Record<string, number>>;
}

/** How the machine is played for one take. */
export interface Performance {
  readonly bpm: number;
  /** Unwrapped position of the barrel at t = 0, in steps; may lie between steps. */
  readonly startPosition?: number;
  /** How far it turns. Strikes due at the last position itself are not played. */
  readonly turns: number;
  /** Adjuster id → setting; absent: as in `builtWith`. */
  readonly settings?: Readonly<Record<string, number>>;
}

export interface Strike {
  readonly timeS: number;
  readonly channel: number;
  /** Step of its pin in the pattern; −1 for a strike without a pin. */
  readonly step: number;
  /** Step at which it is heard: another than `step` where the pin is misplaced. */
  readonly foundStep: number;
  /** Turn in which it is heard; 0 is the turn in which the take starts. */
  readonly turn: number;
  /** Against the reference's mean, at the step where the pin is fitted; NaN without a pin. */
  readonly trueLatenessMs: number;
  readonly pinned: 'right' | 'misplaced' | 'none';
}

export interface TrueGroup {
  readonly channel: number;
  /** null: the whole channel */
  readonly sector: number | null;
  /** Pins in their right holes. */
  readonly pins: number;
  /** Strikes of those pins that sounded. */
  readonly strokes: number;
  /** Mean of those pins, chance apart, each pin weighing once; NaN where there is none. */
  readonly meanMs: number;
  /** The same, each pin weighing as often as it sounded: what a mean over strokes estimates. */
  readonly strokesMeanMs: number;
}

export interface Played {
  /** Ascending in time. */
  readonly strikes: readonly Strike[];
  /** Strikes that were due and did not sound. */
  readonly missing: readonly { readonly channel: number; readonly step: number; readonly turn: number }[];
  readonly groups: readonly TrueGroup[];
  /** Mean time of a turn over the whole take, s. */
  readonly secondsPerTurn: number;
  readonly durationS: number;
  /** When the barrel reaches an unwrapped position, plus what makes the reference's mean zero, s. */
  readonly timeAt: (position: number) => number;
}

/** Strikes due so near the take's start that they fall before it are not heard. */
const earliestS = 0;

/** @throws RangeError where the truth names a pin that the pattern does not have */
export function play(machine: Machine, truth: Truth, how: Performance, random: Random): Played {
  const { description, pins, reference } = machine;
  for (const { channel, step } of [...(truth.misplaced ?? []), ...(truth.missing ?? [])])
    if (!pins.some((pin) => pin.step === step && description.channels[pin.channel].id === channel))
      throw new RangeError(`${channel} has no pin at step ${step}`);
  const { steps } = description.barrel;
  const channelIndex = new Map(description.channels.map((channel, i) => [channel.id, i]));
  const start = how.startPosition ?? 0;
  const end = start + how.turns * steps;
  const nominalS = secondsPerTurnAt(how.bpm, description);
  const turnTime = rotation(truth, nominalS, start / steps);

  const fitted = pins.map((pin, i) => {
    const id = description.channels[pin.channel].id;
    const misplaced = truth.misplaced?.find((m) => m.channel === id && m.step === pin.step);
    const foundStep = misplaced?.foundStep ?? pin.step;
    return {
      ...pin,
      foundStep,
      misplaced: misplaced !== undefined,
      latenessMs:
        offsetMs(machine, truth, how, { channel: pin.channel, step: foundStep }, nominalS) +
        (truth.pinMs?.[i] ?? 0),
    };
  });
  const zeroMs =
    mean(fitted.filter((pin) => pin.channel === reference && !pin.misplaced).map((pin) => pin.latenessMs)) ||
    0;
  const timeAt = (position: number) => turnTime(position / steps) + zeroMs / 1000;

  const strikes: Strike[] = [];
  const missing: { channel: number; step: number; turn: number }[] = [];
  const sounded = new Array<number>(fitted.length).fill(0);
  for (let turn = Math.floor(start / steps); turn * steps < end; turn++) {
    fitted.forEach((pin, i) => {
      const position = turn * steps + pin.foundStep;
      if (position < start || position >= end) return;
      const id = description.channels[pin.channel].id;
      // Both drawn always, so that one stroke more or less missing moves no other stroke.
      const chanceMs = random.normal() * (truth.repeatabilityMs?.[id] ?? 0);
      const silent = random.uniform() < (truth.missingProbability ?? 0);
      const named = truth.missing?.some((m) => m.channel === id && m.step === pin.step && m.turn === turn);
      if (silent || named) {
        missing.push({ channel: pin.channel, step: pin.step, turn });
        return;
      }
      const trueLatenessMs = pin.latenessMs - zeroMs + chanceMs;
      const timeS = timeAt(position) + trueLatenessMs / 1000;
      if (timeS < earliestS) return;
      sounded[i]++;
      const pinned = pin.misplaced ? 'misplaced' : 'right';
      strikes.push({
        timeS,
        channel: pin.channel,
        step: pin.step,
        foundStep: pin.foundStep,
        turn,
        trueLatenessMs,
        pinned,
      });
    });
  }
  for (const { channel, position } of truth.extra ?? []) {
    if (position < start || position >= end) continue;
    const turn = Math.floor(position / steps);
    const found = { step: -1, foundStep: Math.round(position - turn * steps) % steps, turn };
    strikes.push({
      ...found,
      timeS: timeAt(position),
      channel: channelIndex.get(channel)!,
      trueLatenessMs: NaN,
      pinned: 'none',
    });
  }
  strikes.sort((a, b) => a.timeS - b.timeS);

  const right = fitted.flatMap((pin, i) =>
    pin.misplaced
      ? []
      : [{ ...pin, sector: sectorOf(description, pin.step), ms: pin.latenessMs - zeroMs, count: sounded[i] }],
  );
  const durationS = turnTime(end / steps);
  return {
    strikes,
    missing,
    groups: groupsOf(machine, right),
    secondsPerTurn: durationS / how.turns,
    durationS,
    timeAt,
  };
}

/** Time in s at which the barrel has made so many turns, 0 at the start; its speed wobbles and drifts as the truth says. */
function rotation(truth: Truth, nominalS: number, startTurn: number): (turn: number) => number {
  const { fraction = 0, periodTurns = 1, phase = 0 } = truth.wobble ?? {};
  const drift = truth.driftPerTurn ?? 0;
  const angle = (u: number) => (2 * Math.PI * u) / periodTurns + phase;
  // dt/du = nominal·(1 + drift·u + fraction·cos(angle)), integrated from 0; u in turns since the take's start.
  const swing = (u: number) =>
    ((fraction * periodTurns) / (2 * Math.PI)) * (Math.sin(angle(u)) - Math.sin(angle(0)));
  return (turn) => {
    const u = turn - startTurn;
    return nominalS * (u + (drift * u * u) / 2 + swing(u));
  };
}

/** Lateness of a channel at a step, its pins' own errors apart. */
function offsetMs(
  machine: Machine,
  truth: Truth,
  how: Performance,
  { channel, step }: { readonly channel: number; readonly step: number },
  turnS: number,
): number {
  const { channels, adjusters, barrel } = machine.description;
  const { id, onBarrel } = channels[channel];
  const sector = sectorOf(machine.description, step);
  let ms = truth.channelMs?.[id] ?? 0;
  if (onBarrel) ms += truth.sectorMs?.[barrel.sectors[sector].id] ?? 0;
  for (const adjuster of adjusters) {
    if (!moves(machine, adjuster, channel, sector)) continue;
    const built = truth.builtWith?.[adjuster.id] ?? adjuster.installed;
    const now = how.settings?.[adjuster.id] ?? built;
    const factor = truth.effectFactor?.[adjuster.id] ?? 1;
    ms += factor * shiftMs(adjuster, built, now, machine.description, turnS);
  }
  return ms;
}

function groupsOf(
  machine: Machine,
  pins: readonly { channel: number; sector: number; ms: number; count: number }[],
): TrueGroup[] {
  const { channels, barrel } = machine.description;
  return channels.flatMap((_, channel) =>
    [null, ...barrel.sectors.keys()].flatMap((sector) => {
      const here = pins.filter(
        (pin) => pin.channel === channel && (sector === null || pin.sector === sector),
      );
      if (here.length === 0 && sector !== null) return [];
      const strokes = here.reduce((sum, pin) => sum + pin.count, 0);
      const weighted = here.reduce((sum, pin) => sum + pin.count * pin.ms, 0);
      return {
        channel,
        sector,
        pins: here.length,
        strokes,
        meanMs: mean(here.map((pin) => pin.ms)),
        strokesMeanMs: weighted / strokes,
      };
    }),
  );
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** Each pin's own error, normal with this standard deviation; the mean of each channel's pins is left as it falls. */
export function pinErrors(machine: Machine, sdMs: number, random: Random): number[] {
  return machine.pins.map(() => sdMs * random.normal());
}
