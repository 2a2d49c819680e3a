/** How much of each adjuster's shift reaches a group of strokes, by the machine's description. */
import { shareMoved, shareOfReference } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';

/** How much of each adjuster's own shift a group's lateness takes, the reference's mean shift taken off; not to be written to. */
export function sharesOf(machine: Machine, channel: number, sector: number): Float64Array {
  const known = sharesByGroup.get(machine) ?? new Map<number, Float64Array>();
  sharesByGroup.set(machine, known);
  const key = channel * machine.description.barrel.sectors.length + sector;
  let shares = known.get(key);
  if (shares === undefined) {
    const ofReference = referenceShares(machine);
    shares = Float64Array.from(
      machine.description.adjusters,
      (adjuster, a) => shareMoved(machine, adjuster, channel, sector) - ofReference[a],
    );
    known.set(key, shares);
  }
  return shares;
}

const sharesByGroup = new WeakMap<Machine, Map<number, Float64Array>>();
const sharesOfReference = new WeakMap<Machine, readonly number[]>();

/** By adjuster; worked out once a machine. Without pins of the reference nothing is taken off. */
function referenceShares(machine: Machine): readonly number[] {
  let shares = sharesOfReference.get(machine);
  if (shares === undefined) {
    shares = machine.description.adjusters.map((adjuster) => shareOfReference(machine, adjuster) || 0);
    sharesOfReference.set(machine, shares);
  }
  return shares;
}
