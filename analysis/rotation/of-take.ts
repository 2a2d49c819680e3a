/** How the barrel turned during a take, from moments that may be strikes and from what is said of the take. */
import type { Machine } from '../machine/machine.ts';
import { findRotation, type RoughRotation } from './rotation.ts';
import type { Take } from '../take/take.ts';

export interface Moment {
  readonly timeS: number;
  /** Channel indices which it may be. */
  readonly channels: readonly number[];
}

/** @param moments in any order */
export function roughRotationOf(take: Take, machine: Machine, moments: readonly Moment[]): RoughRotation {
  const inOrder = [...moments].sort((a, b) => a.timeS - b.timeS);
  const { tempo = null, startStep = null } = take.description;
  return findRotation(
    machine,
    { timeS: Float64Array.from(inOrder, (m) => m.timeS), candidates: inOrder.map((m) => m.channels) },
    {
      bpm: tempo,
      startStep,
      sectorStarts: take.markers.flatMap(({ timeS, meaning }) =>
        meaning.kind === 'sector' ? [{ timeS, sector: meaning.sector }] : [],
      ),
    },
  );
}
