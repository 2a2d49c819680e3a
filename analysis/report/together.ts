/** Channels that should sound as one (`together` in machine.jsonc), sector by sector, as goals beside tolerance. */
import { heardAsTwoMs } from '../checks/apart.ts';
import type { Machine } from '../machine/machine.ts';

/** Two that should sound as one may differ by so much before they are heard as two (the source is at the check). */
export const togetherMs = heardAsTwoMs;

/** Every two of each set, in the order in which machine.jsonc names them. */
export function togetherPairs({ description: { together = [] } }: Machine): [string, string][] {
  return together.flatMap((set) =>
    set.flatMap((a, i) => set.slice(i + 1).map((b): [string, string] => [a, b])),
  );
}
