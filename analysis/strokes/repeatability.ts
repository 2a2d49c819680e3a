/**
 * How far chance alone moves a stroke: the spread of one pin from turn to turn. What a pin's own error adds is there
 * every turn and no part of it; the rotation's uncertainty, which a stroke's lateness carries too, is taken off.
 */
import { grouped } from '../grouped.ts';
import type { Machine } from '../machine/machine.ts';
import { pooledVariance } from '../numbers/inference.ts';
import type { Strokes } from './strokes.ts';

export interface Chance {
  /** ms² */
  readonly variance: number;
  readonly degreesOfFreedom: number;
}

/** Strokes that enter the numbers, by channel and pin: hit indices. */
export function usedByPin(strokes: Strokes, machine: Machine): Map<number, number[]>[] {
  const used = Array.from(strokes.hits.channel.keys()).filter(
    (i) => strokes.why[i] === null && !Number.isNaN(strokes.latenessMs[i]),
  );
  const byChannel = grouped(used, (i) => strokes.hits.channel[i]);
  return machine.description.channels.map((_, c) => grouped(byChannel.get(c) ?? [], (i) => strokes.step[i]));
}

/** A spread of fewer degrees of freedom is borrowed from the machine's other channels instead. */
const leastFreedom = 4;
/** The rotation's share of a spread is estimated too: so much at least is left to the striker. */
const leastOwnShare = 0.25;

/**
 * Chance of each channel's single stroke. A channel that came round too seldom has that of all channels together;
 * where no pin came round twice nothing is known (NaN), and a group's own scatter must serve.
 */
export function chances(strokes: Strokes, machine: Machine): Chance[] {
  const byPin = usedByPin(strokes, machine);
  const samples = byPin.map((pins) =>
    [...pins.values()].map((hits) => hits.map((i) => strokes.latenessMs[i])),
  );
  const rotation = 1e6 * strokes.rotation.pointVarianceS2;
  const own = (pins: readonly number[][]): Chance => {
    const { variance, degreesOfFreedom } = pooledVariance(pins);
    const left = Math.max(variance - rotation, leastOwnShare * variance);
    // A difference is less certain, relative to its size, than what it was taken from.
    const share = variance > 0 ? left / variance : 1;
    return { variance: left, degreesOfFreedom: degreesOfFreedom * share ** 2 };
  };
  const all = own(samples.flat());
  return samples.map((pins) => {
    const chance = own(pins);
    return chance.degreesOfFreedom >= leastFreedom ? chance : all;
  });
}
