/** The pins as a search for the rotation needs them: by channel, endless in both directions, and counted quickly. */
import type { Machine } from '../machine/machine.ts';

/** Positions are unwrapped: turn · steps + step. */
export interface EndlessPattern {
  readonly steps: number;
  /** By channel: the steps of its pins, ascending. */
  readonly stepsOf: readonly Float64Array[];
  /** By channel: whether any hit may be its, so that its pins are missed when nothing is heard. */
  readonly audible: readonly boolean[];
  /** Audible pins in a turn. */
  readonly pinsPerTurn: number;
  /** The pin of a channel that is nearest to a position; NaN where it has none. */
  readonly nearest: (channel: number, position: number) => number;
  /** Audible pins from one position up to, not including, another. */
  readonly passed: (from: number, to: number) => number;
}

export function endlessPattern(machine: Machine, audible: readonly boolean[]): EndlessPattern {
  const { steps } = machine.description.barrel;
  const stepsOf = machine.description.channels.map((_, channel) =>
    Float64Array.from(machine.pins.filter((pin) => pin.channel === channel).map((pin) => pin.step)).sort(),
  );
  // before[k]: audible pins at steps below k; one between two steps counts from the lower
  const before = new Float64Array(steps + 1);
  for (const pin of machine.pins) if (audible[pin.channel]) before[Math.floor(pin.step) + 1]++;
  for (let k = 0; k < steps; k++) before[k + 1] += before[k];
  const pinsPerTurn = before[steps];
  const below = (position: number) => {
    const whole = Math.ceil(position);
    const turn = Math.floor(whole / steps);
    return turn * pinsPerTurn + before[whole - turn * steps];
  };
  return {
    steps,
    stepsOf,
    audible,
    pinsPerTurn,
    nearest(channel, position) {
      const pins = stepsOf[channel];
      if (pins.length === 0) return NaN;
      const turn = Math.floor(position / steps);
      const step = position - turn * steps;
      const after = firstAtOrAbove(pins, step);
      const above = after < pins.length ? pins[after] : pins[0] + steps;
      const under = after > 0 ? pins[after - 1] : pins[pins.length - 1] - steps;
      return turn * steps + (above - step < step - under ? above : under);
    },
    passed: (from, to) => below(to) - below(from),
  };
}

function firstAtOrAbove(ascending: Float64Array, value: number): number {
  let low = 0;
  let high = ascending.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ascending[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
