/**
 * How far chance alone moves a stroke: the spread of one pin from turn to turn. What a pin's own error adds is there
 * every turn and no part of it; the rotation's uncertainty, which a stroke's lateness carries too, is taken off.
 */
import { grouped } from '../numbers/grouped.ts';
import type { Machine } from '../machine/machine.ts';
import { pooledVariance } from '../numbers/inference.ts';
import type { Chance, Strokes } from './strokes.ts';

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
/** Strokes of a channel at which the rotation's share is looked up. */
const probes = 6;

/**
 * Chance of each channel's single stroke. Of a channel that helped to tell the course it came with the course; of the
 * others it is their pins' spread, the rotation's share off. A channel that came round too seldom has that of all channels
 * together; where no pin came round twice nothing is known (NaN), and a group's own scatter must serve.
 */
export function chances(strokes: Strokes, machine: Machine): readonly Chance[] {
  let known = knownChances.get(strokes);
  if (known === undefined) knownChances.set(strokes, (known = workOut(strokes, machine)));
  return known;
}

/** Worked out once a take: every contrast asks. */
const knownChances = new WeakMap<Strokes, readonly Chance[]>();

function workOut(strokes: Strokes, machine: Machine): Chance[] {
  const byPin = usedByPin(strokes, machine);
  const { errors } = strokes.rotation;
  const spreads = byPin.map((pins) => spreadOf(strokes, pins));
  const own = spreads.map(({ variance, degreesOfFreedom }, c): Chance => {
    if (!(degreesOfFreedom > 0)) return { variance: NaN, degreesOfFreedom: 0 };
    const told = errors.chance[c];
    if (told) return told;
    const rotation = rotationShare(strokes, machine, [...byPin[c].values()].flat());
    const left = Math.max(variance - rotation, leastOwnShare * variance);
    // A difference is less certain, relative to its size, than what it was taken from.
    const share = variance > 0 ? left / variance : 1;
    return { variance: left, degreesOfFreedom: degreesOfFreedom * share ** 2 };
  });
  const known = own.filter(({ degreesOfFreedom }) => degreesOfFreedom > 0);
  const freedom = known.reduce((sum, one) => sum + one.degreesOfFreedom, 0);
  const all: Chance = {
    variance: known.reduce((sum, one) => sum + one.variance * one.degreesOfFreedom, 0) / freedom,
    degreesOfFreedom: freedom,
  };
  return own.map((chance) => (chance.degreesOfFreedom >= leastFreedom ? chance : all));
}

/**
 * By channel: which share of its pins' spread from turn to turn is the striker's own. What hunts in the drive is in the
 * spread of every channel and no striker's fault. NaN where no pin came round twice.
 */
export function ownShares(strokes: Strokes, machine: Machine): number[] {
  const byPin = usedByPin(strokes, machine);
  const chanceOf = chances(strokes, machine);
  return byPin.map((pins, c) => {
    const { variance, degreesOfFreedom } = spreadOf(strokes, pins);
    if (!(degreesOfFreedom >= leastFreedom)) return degreesOfFreedom > 0 ? 1 : NaN;
    return variance > 0 ? chanceOf[c].variance / variance : 1;
  });
}

function spreadOf(strokes: Strokes, pins: ReadonlyMap<number, readonly number[]>) {
  return pooledVariance([...pins.values()].map((hits) => hits.map((i) => strokes.latenessMs[i])));
}

/** Mean variance of single strokes that the rotation brings, ms². */
function rotationShare(strokes: Strokes, machine: Machine, hits: readonly number[]): number {
  const { steps } = machine.description.barrel;
  const stride = Math.max(1, Math.floor(hits.length / probes));
  const some = hits.filter((_, k) => k % stride === 0);
  return (
    some.reduce((sum, i) => {
      const position = strokes.turn[i] * steps + strokes.step[i];
      return sum + strokes.rotation.errors.of([position], [1], [i]).rotation;
    }, 0) / some.length
  );
}
