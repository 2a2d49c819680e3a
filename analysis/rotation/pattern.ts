/** The pins as a search for the rotation needs them: by channel, endless in both directions, and counted quickly. */
import { bisectLeft } from 'd3-array';
import { grouped } from '../numbers/grouped.ts';
import type { Machine } from '../machine/machine.ts';

/** Positions are unwrapped: turn · steps + step. */
export interface EndlessPattern {
  readonly steps: number;
  /** By channel: the steps of its pins, ascending. */
  readonly stepsOf: readonly Float64Array[];
  /** Steps at which any of these channels has a pin, ascending, each once. */
  readonly stepsOfAny: (channels: readonly number[]) => Float64Array;
  /** By channel: whether any hit may be its, so that its pins are missed when nothing is heard. */
  readonly audible: readonly boolean[];
  /** For each channel the first of those that one microphone hears with it, so that a moment may be any of theirs; itself where it is alone. */
  readonly groupOf: readonly number[];
  /** Audible places in a turn: what strikes together before one microphone is one moment, so the pins of a group at one step are one place. */
  readonly placesPerTurn: number;
  /** The pin of a channel that is nearest to a position; NaN where it has none. */
  readonly nearest: (channel: number, position: number) => number;
  /** Audible pins from one position up to, not including, another. */
  readonly pinsPassed: (from: number, to: number) => number;
  /** Audible places from one position up to, not including, another. */
  readonly passed: (from: number, to: number) => number;
}

/** @param groupOf as in the result; absent: each channel is told from every other */
export function endlessPattern(
  machine: Machine,
  audible: readonly boolean[],
  groupOf: readonly number[] = machine.description.channels.map((_, channel) => channel),
): EndlessPattern {
  const { steps } = machine.description.barrel;
  const stepsOf = machine.description.channels.map((_, channel) =>
    Float64Array.from(machine.pins.filter((pin) => pin.channel === channel).map((pin) => pin.step)).sort(),
  );
  const audibly = machine.pins.filter(({ channel }) => audible[channel]);
  const places = [...grouped(audibly, ({ channel, step }) => `${groupOf[channel]} ${step}`).values()];
  const passed = countOf(
    places.map(([{ step }]) => step),
    steps,
  );
  const stepsOfSet = new Map<readonly number[], Float64Array>();
  return {
    steps,
    stepsOf,
    stepsOfAny(channels) {
      if (channels.length === 1) return stepsOf[channels[0]];
      const known = stepsOfSet.get(channels);
      if (known) return known;
      const steps = Float64Array.from(new Set(channels.flatMap((c) => [...stepsOf[c]]))).sort();
      stepsOfSet.set(channels, steps);
      return steps;
    },
    audible,
    groupOf,
    placesPerTurn: places.length,
    nearest(channel, position) {
      const pins = stepsOf[channel];
      if (pins.length === 0) return NaN;
      const turn = Math.floor(position / steps);
      const step = position - turn * steps;
      const after = bisectLeft(pins, step);
      const above = after < pins.length ? pins[after] : pins[0] + steps;
      const under = after > 0 ? pins[after - 1] : pins[pins.length - 1] - steps;
      return turn * steps + (above - step < step - under ? above : under);
    },
    pinsPassed: countOf(
      audibly.map(({ step }) => step),
      steps,
    ),
    passed,
  };
}

/** How many of some steps of an endless pattern lie from one position up to, not including, another. */
function countOf(at: readonly number[], steps: number): (from: number, to: number) => number {
  // before[k]: those at steps below k; one between two steps counts from the lower
  const before = new Float64Array(steps + 1);
  for (const step of at) before[Math.floor(step) + 1]++;
  for (let k = 0; k < steps; k++) before[k + 1] += before[k];
  const below = (position: number) => {
    const whole = Math.ceil(position);
    const turn = Math.floor(whole / steps);
    return turn * before[steps] + before[whole - turn * steps];
  };
  return (from, to) => below(to) - below(from);
}
