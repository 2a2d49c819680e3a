/** Which settings of an adjuster keep the level that a builder asks for (`keepLevel`). */
import { moves } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';

/** Heights that are computed differ by rounding. */
export const SLACK_DB = 1e-6;

/** A channel whose level is kept, and an adjuster that may change it. */
interface Kept {
  /** Index into the machine's channels. */
  readonly channel: number;
  readonly withinDb: number;
  /** The drop height whose level is meant, mm; NaN where what an adjuster does to the level is not known. */
  readonly meantMm: number;
}

/** What of the level is kept an adjuster may change: empty of shims, levers and rings, and of a machine that keeps none. */
export function keptBy(machine: Machine, a: number): Kept[] {
  const { channels, adjusters } = machine.description;
  const { perUnit, shifts } = adjusters[a];
  const isDrop = 'dropMm' in perUnit;
  // What is given in ms of a channel may be its height as well as anything else.
  if (!isDrop && !('ms' in perUnit && shifts.channels !== undefined)) return [];
  return channels.flatMap(({ keepLevel }, channel) => {
    const isMoved = moves(machine, adjusters[a], channel, null);
    if (keepLevel === undefined || !(isMoved || isCoupled(machine, a, channel))) return [];
    const isKnown = isDrop && isMoved && isOnlyDrop(machine, a, channel);
    const meantMm = isKnown ? (keepLevel.dropHeightMm ?? NaN) : NaN;
    return [{ channel, withinDb: keepLevel.withinDb, meantMm }];
  });
}

function isCoupled({ description }: Machine, a: number, channel: number): boolean {
  const { id } = description.channels[channel];
  return (description.adjusters[a].alsoShifts ?? []).some(({ channels }) => channels?.includes(id) ?? true);
}

/** Of two heights of one striker in one sector nobody can tell which one it falls through. */
function isOnlyDrop(machine: Machine, a: number, channel: number): boolean {
  const { adjusters, barrel } = machine.description;
  return adjusters.every(
    (other, b) =>
      b === a ||
      !('dropMm' in other.perUnit) ||
      barrel.sectors.every(
        (_, sector) =>
          !moves(machine, other, channel, sector) || !moves(machine, adjusters[a], channel, sector),
      ),
  );
}

/** Settings that keep the level, not whole; null where all do. Empty (`lo` above `hi`) where none is known to. */
export function levelSpan(machine: Machine, a: number): { readonly lo: number; readonly hi: number } | null {
  const kept = keptBy(machine, a);
  if (kept.length === 0) return null;
  const { perUnit } = machine.description.adjusters[a];
  if (!('dropMm' in perUnit) || kept.some(({ meantMm }) => Number.isNaN(meantMm))) return { lo: 1, hi: 0 };
  const ends = kept.map(({ meantMm, withinDb }) =>
    // The level goes with 10·log10 of the height.
    [-1, 1].map(
      (sign) =>
        (meantMm * 10 ** ((sign * (withinDb + SLACK_DB)) / 10) - perUnit.dropHeightMm) / perUnit.dropMm,
    ),
  );
  return {
    lo: Math.max(...ends.map((pair) => Math.min(...pair))),
    hi: Math.min(...ends.map((pair) => Math.max(...pair))),
  };
}
