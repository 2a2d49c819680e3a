/** The person at the machine: fits what was proposed, as parts allow, and notes it. */
import type { Chance } from './random.ts';
import type { World } from './world.ts';

export interface Change {
  readonly adjuster: string;
  readonly from: number;
  readonly to: number;
}

/** What was really done, and what was noted; both are as told where nobody errs. */
export interface Deed {
  readonly done: readonly Change[];
  readonly noted: readonly Change[];
}

/** Turns what hangs under a label: the part comes to rest near where it should, with its backlash and its slips. */
export function fit(world: World, changes: readonly Change[], random: Chance): void {
  for (const { adjuster, from, to } of changes) {
    const turned = world.labels.get(adjuster) ?? adjuster;
    const part = world.parts.find(({ id }) => id === turned)!;
    const way = Math.sign(to - from);
    const lost = part.lastWay !== 0 && way !== part.lastWay ? part.backlash : 0;
    const moved = Math.sign(to - from) * Math.max(0, Math.abs(to - from) - lost);
    const restMs = world.shape.refitMs * random.normal();
    part.stands += moved + restMs / (part.unitMs * part.factor) + part.slips * random.normal();
    part.lastWay = way;
  }
}

/** Writes the new settings into machine.jsonc. */
export function note(world: World, changes: readonly Change[]): void {
  for (const { adjuster, to } of changes) world.parts.find(({ id }) => id === adjuster)!.written = to;
}
