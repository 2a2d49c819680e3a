/** The smooth rotation through those strokes of the reference that were heard well. */
import type { Hits } from '../hits/hits.ts';
import type { Machine } from '../machine/machine.ts';
import { median } from '../numbers/statistics.ts';
import type { MatchedHit } from './match.ts';
import { fitRotation, type ReferenceStrokes, type SmoothRotation } from './reference.ts';

export interface ThroughReference {
  readonly rotation: SmoothRotation;
  /** Hits that it was fitted to. */
  readonly hits: Int32Array;
}

/** @param pairs strokes of any channels; @returns null where the reference was heard too seldom */
export function throughReference(
  machine: Machine,
  hits: Hits,
  pairs: readonly MatchedHit[],
): ThroughReference | null {
  const { reference } = machine;
  const own = pairs
    .filter(({ due, hit }) => due.channel === reference && hits.why[hit] === null)
    .sort((a, b) => a.due.position - b.due.position);
  const { onBarrel } = machine.description.channels[reference];
  const strokes: ReferenceStrokes = {
    position: Float64Array.from(own, ({ due }) => due.position),
    timeS: Float64Array.from(own, ({ hit, due }) => hits.timeS[hit] - due.targetS),
    sector: Int32Array.from(own, ({ due }) => (onBarrel ? due.sector : -1)),
    hearingSdS: own.length > 0 ? median(own.map(({ hit }) => hits.timeSdS[hit])) : NaN,
  };
  const rotation = fitRotation(strokes);
  return rotation && { rotation, hits: Int32Array.from(rotation.used, (i) => own[i].hit) };
}
