/**
 * A group's lateness from take to take as one series: what is left once each pin's own, lasting lateness is taken off.
 * Pins that a take lacks (missed, misplaced, moved) must not pull its mean along, so pins and takes are told apart by
 * weighted least squares over both (a two-way layout), and all takes are put on the newest take's pins. Takes at
 * different tempi are different series: what a delay does to lateness changes with tempo. So are takes of different tunes,
 * whose pins are others.
 */
import { grouped } from '../numbers/grouped.ts';
import type { ObservedPin, Round } from './rounds.ts';

/** Whether something moves a channel in a sector; without a tune: in any of them. */
export type Moves = (channel: number, sector: number, tune?: string) => boolean;

export interface Series {
  readonly channel: number;
  readonly sector: number;
  readonly tune?: string;
  /** Ascending indices of the rounds in which it was measured, all at one tempo. */
  readonly rounds: readonly number[];
  /** One a round: lateness in ms and its own variance in ms², the reference's share apart. */
  readonly valuesMs: Float64Array;
  readonly noiseMs2: Float64Array;
  /** Variance that all its rounds share, ms²: no difference between them has it. */
  readonly standingMs2: number;
}

/** Takes whose turn differs by less than this share are at one tempo: what it does to a lateness is below hearing. */
const SAME_TEMPO = 0.005;

/** The first round at the same tempo names it. */
export function tempoOf(rounds: readonly Round[], round: number): number {
  const { secondsPerTurn } = rounds[round];
  return rounds.findIndex((other) => Math.abs(other.secondsPerTurn / secondsPerTurn - 1) < SAME_TEMPO);
}

export function seriesOf(rounds: readonly Round[]): Series[] {
  const observed = rounds.flatMap(({ pins, tune }, round) => {
    const tempo = tempoOf(rounds, round);
    return pins.map((pin) => ({ round, pin, tempo, tune }));
  });
  const groups = grouped(observed, ({ pin, tempo, tune = '' }) =>
    JSON.stringify([tempo, tune, pin.channel, pin.sector]),
  );
  return [...groups.values()].map(oneSeries);
}

interface Observed {
  readonly round: number;
  readonly pin: ObservedPin;
  readonly tune: string | undefined;
}

/** Passes over pins and takes; where all takes have the same pins, one is enough. */
const MOST_PASSES = 40;
const SETTLED_MS = 1e-9;

function oneSeries(all: readonly Observed[]): Series {
  const { tune } = all[0];
  const { channel, sector } = all[0].pin;
  const observed = connected(all);
  const byRound = [...grouped(observed, ({ round }) => round)].sort(([a], [b]) => a - b);
  const newest = byRound[byRound.length - 1][1];
  const shares = new Map(newest.map(({ pin }) => [pin.key, pin.share]));
  const byPin = [...grouped(observed, ({ pin }) => pin.key).values()];
  const own = new Map(byPin.map(([{ pin }]) => [pin.key, 0]));
  const level = new Map<number, number>();
  for (let pass = 0, moved = Infinity; pass < MOST_PASSES && moved > SETTLED_MS; pass++) {
    for (const [round, pins] of byRound)
      level.set(
        round,
        weighted(pins, ({ pin }) => pin.meanMs - own.get(pin.key)!),
      );
    moved = 0;
    for (const pins of byPin) {
      const { key } = pins[0].pin;
      const ms = weighted(pins, ({ pin, round }) => pin.meanMs - level.get(round)!);
      moved = Math.max(moved, Math.abs(ms - own.get(key)!));
      own.set(key, ms);
    }
  }
  // Lateness of the newest take's pins: their own lateness, each with its share there, belongs to the level.
  const ofNewest = [...shares].reduce((sum, [key, share]) => sum + share * own.get(key)!, 0);
  const weightOfPin = new Map(
    byPin.map((pins) => [pins[0].pin.key, pins.reduce((sum, { pin }) => sum + pin.weight, 0)]),
  );
  return {
    channel,
    sector,
    ...(tune === undefined ? {} : { tune }),
    rounds: byRound.map(([round]) => round),
    valuesMs: Float64Array.from(byRound, ([round]) => level.get(round)! + ofNewest),
    noiseMs2: Float64Array.from(byRound, ([, pins]) => {
      const weight = pins.reduce((sum, { pin }) => sum + pin.weight, 0);
      // Where pins are missing, the others stand for them as exactly as their own lateness is known.
      const kept = new Map(pins.map(({ pin }) => [pin.key, pin.weight / weight]));
      const missing = [...shares].reduce(
        (sum, [key, share]) => sum + (share - (kept.get(key) ?? 0)) ** 2 / weightOfPin.get(key)!,
        0,
      );
      return 1 / weight + missing;
    }),
    standingMs2: newest[0].pin.standingMs2,
  };
}

/** The rounds that share pins, directly or through others, with the newest one: no other says where it stands. */
function connected(all: readonly Observed[]): Observed[] {
  const newest = Math.max(...all.map(({ round }) => round));
  const rounds = new Set([newest]);
  const keys = new Set<string>();
  for (let before = -1; before !== rounds.size + keys.size;) {
    before = rounds.size + keys.size;
    for (const { round, pin } of all) {
      if (rounds.has(round)) keys.add(pin.key);
      if (keys.has(pin.key)) rounds.add(round);
    }
  }
  return all.filter(({ round }) => rounds.has(round));
}

function weighted(observed: readonly Observed[], valueOf: (one: Observed) => number): number {
  let sum = 0;
  let weight = 0;
  for (const one of observed) {
    sum += one.pin.weight * valueOf(one);
    weight += one.pin.weight;
  }
  return sum / weight;
}
