/**
 * Pins in the wrong hole. A pin that is silent where it should sound, while turn after turn a hit that is nobody's comes
 * the same whole number of steps away, sits there; a pin that is meant between two steps may sit in either of their holes,
 * too. The decision is the pin's, over all turns, never a single hit's.
 */
import { grouped } from '../numbers/grouped.ts';
import type { Machine } from '../machine/machine.ts';
import { wrappedStep } from '../machine/pattern.ts';
import { median, robustSd } from '../numbers/statistics.ts';
import type { Due, MatchedHit } from './match.ts';
import type { MisplacedPin } from './strokes.ts';

/** How far from its hole a pin is looked for: half a beat and four steps at least; further off it is another pin. */
const leastSearch = 4;
/** A hit belongs to a hole within this of it, in steps, and no further off than hits of its channel are from their pins. */
const inHole = 0.35;
/** The same for a pin that is meant between two steps, where holes lie closer; and the least distance, steps, to another hole. */
const betweenHoles = 0.15;
const leastAside = 0.25;
/** A pin has left its own hole from this distance of its strokes on, in steps. */
const outOfHole = 0.6;
/** And from this many robust spreads of the channel's pins on, since steps may be shorter than pins are exact. */
const standsOut = 6;
/** Share of a pin's turns that must agree. */
const mostTurns = 0.5;

/** A hit that no pin claims, with where it lies on the barrel, its channel's and sector's lateness taken off. */
export interface Stray {
  readonly hit: number;
  readonly channel: number;
  /** Unwrapped, steps */
  readonly position: number;
  readonly latenessFrom: (due: Due) => number;
}

export interface Moved {
  readonly pins: readonly MisplacedPin[];
  /** Hits of misplaced pins, with the stroke that they are. */
  readonly pairs: readonly MatchedHit[];
  /** Strokes of pins that are in their holes and yet, turn after turn, further off than a hit by itself may be. */
  readonly bent: readonly MatchedHit[];
}

/** Strokes and hits of a take, as far as they are matched. */
export interface Matched {
  readonly machine: Machine;
  /** Matched strokes, their lateness less what is usual there, s. */
  readonly pairs: readonly MatchedHit[];
  /** Strokes due that have no hit. */
  readonly unheard: readonly Due[];
  /** Hits that have no stroke. */
  readonly strays: readonly Stray[];
  /** Positions of the first and the last hit: a pin beyond them was not silent, but not recorded. */
  readonly heardFrom: number;
  readonly heardTo: number;
  /** By channel, how far a hit may be from where its pin's is expected, s. */
  readonly reachesS: Float64Array;
  readonly secondsPerStep: number;
}

export function findMisplaced(matched: Matched): Moved {
  return merge([outOfTheirHoles(matched), inOtherHoles(matched)]);
}

function merge(parts: readonly Moved[]): Moved {
  return {
    pins: parts.flatMap((part) => part.pins),
    pairs: parts.flatMap((part) => part.pairs),
    bent: parts.flatMap((part) => part.bent),
  };
}

/** Where steps are so short that a wrong hole is within reach of a hit's own pin: it is late by whole steps. */
function outOfTheirHoles({ machine, pairs, secondsPerStep }: Matched): Moved {
  const { channels, barrel } = machine.description;
  const byPin = grouped(pairs, ({ due }) => key(due.channel, due.step));
  const middles = [...byPin.values()].map((list) => ({ list, middle: median(list.map((p) => p.latenessS)) }));
  const moved: Moved[] = [];
  channels.forEach((channel, c) => {
    const here = middles.filter(({ list }) => list[0].due.channel === c);
    const spread = here.length > 3 ? robustSd(here.map(({ middle }) => middle)) : 0;
    const least = Math.max(outOfHole * secondsPerStep, standsOut * spread, channel.toleranceMs / 1000);
    for (const { list, middle } of here) {
      const { step } = list[0].due;
      const by = nearestOf(
        holesBeside(step, Math.ceil(Math.abs(middle) / secondsPerStep)),
        middle / secondsPerStep,
      );
      if (by === 0 || Math.abs(middle) < least) continue;
      const agreeing = list.filter((p) => Math.abs(p.latenessS - middle) <= outOfHole * secondsPerStep);
      if (agreeing.length <= mostTurns * list.length) continue;
      const foundStep = wrappedStep(step + by, barrel.steps);
      moved.push({ pins: [{ channel: c, step, foundStep, count: list.length }], pairs: list, bent: [] });
    }
  });
  return merge(moved);
}

function inOtherHoles(matched: Matched): Moved {
  const { machine, pairs, unheard, strays, heardFrom, heardTo, secondsPerStep } = matched;
  const reachSteps = matched.reachesS.map((reachS) => reachS / secondsPerStep);
  const { steps, stepsPerBeat } = machine.description.barrel;
  const search = Math.max(leastSearch, Math.floor(stepsPerBeat / 2));
  const pinned = new Set(machine.pins.map(({ channel, step }) => key(channel, step)));
  const heard = grouped(pairs, ({ due }) => key(due.channel, due.step));
  const straysOf = grouped(strays, ({ channel }) => channel);
  const claims: {
    channel: number;
    step: number;
    by: number;
    turns: number;
    found: { due: Due; stray: Stray }[];
  }[] = [];
  for (const [pin, everySilent] of grouped(unheard, ({ channel, step }) => key(channel, step))) {
    const { channel, step } = everySilent[0];
    const isBetween = step !== Math.floor(step);
    for (const by of holesBeside(step, search)) {
      if (by !== 0 && pinned.has(key(channel, wrappedStep(step + by, steps)))) continue;
      const silent = everySilent.filter(
        ({ position }) => position + by >= heardFrom - 1 && position + by <= heardTo + 1,
      );
      const turns = silent.length + (heard.get(pin)?.length ?? 0);
      if (silent.length <= mostTurns * turns) continue;
      const own = by === 0 ? 0.5 : Math.min(inHole, reachSteps[channel]);
      const within = isBetween ? Math.min(own, betweenHoles) : own;
      const found = silent.flatMap((due) => {
        const place = due.position + due.targetS / secondsPerStep + by;
        const stray = nearestTo(straysOf.get(channel) ?? [], place);
        return stray && Math.abs(stray.position - place) <= within ? [{ due, stray }] : [];
      });
      // Once is enough only where the barrel came round once, and then only next door.
      const least = silent.length > 1 || by === 0 ? 2 : Math.abs(by) <= 2 ? 1 : Infinity;
      if (found.length >= least && found.length > mostTurns * silent.length)
        claims.push({ channel, step, by, turns: silent.length, found });
    }
  }
  claims.sort(
    (a, b) =>
      b.found.length / b.turns - a.found.length / a.turns ||
      Math.abs(a.by) - Math.abs(b.by) ||
      a.channel - b.channel ||
      a.step - b.step ||
      a.by - b.by,
  );
  const taken = new Set<number>();
  const settled = new Set<number>();
  const moved: Moved[] = [];
  for (const { channel, step, by, found } of claims) {
    const free = found.filter(({ stray }) => !taken.has(stray.hit));
    if (settled.has(key(channel, step)) || free.length < found.length) continue;
    settled.add(key(channel, step));
    for (const { stray } of free) taken.add(stray.hit);
    const strokes = free.map(({ due, stray }) => ({
      hit: stray.hit,
      due,
      latenessS: stray.latenessFrom(due),
    }));
    moved.push(
      by === 0
        ? { pins: [], pairs: [], bent: strokes }
        : {
            pins: [{ channel, step, foundStep: wrappedStep(step + by, steps), count: free.length }],
            pairs: strokes,
            bent: [],
          },
    );
  }
  return merge(moved);
}

function nearestTo(strays: readonly Stray[], position: number): Stray | null {
  let best: Stray | null = null;
  for (const stray of strays)
    if (best === null || Math.abs(stray.position - position) < Math.abs(best.position - position))
      best = stray;
  return best;
}

/** More steps than any barrel has: makes one number of channel and step. */
const keyBase = 1_000_000;
function key(channel: number, step: number): number {
  return channel * keyBase + step;
}

/**
 * Where the pin of a step may sit instead, in steps from it, ascending: whole steps off, and where it is meant between two
 * steps, in holes of whole steps too, unless they are as good as its own place.
 */
function holesBeside(step: number, search: number): number[] {
  const whole = Array.from({ length: 2 * search + 1 }, (_, k) => k - search);
  const part = step - Math.floor(step);
  if (part === 0) return whole;
  const holes = [...whole, search + 1].map((by) => by - part).filter((by) => Math.abs(by) >= leastAside);
  return [...whole, ...holes].sort((a, b) => a - b);
}

function nearestOf(values: readonly number[], wanted: number): number {
  return values.reduce((best, value) => (Math.abs(value - wanted) < Math.abs(best - wanted) ? value : best));
}
