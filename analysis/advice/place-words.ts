/** Where a group is, and how far off, in words. */
import { withMinus } from '../words/minus.ts';
import type { Belief } from './belief.ts';

/** "drum in sector A", and where several are planned for together, of which tune and at which tempo. */
export function placeWords({ machine, groups }: Pick<Belief, 'machine' | 'groups'>, g: number): string {
  const { channel, sector, tune, bpm } = groups[g];
  const { channels, barrel } = machine.description;
  const ofTune = tune === undefined ? '' : ` of ${tune}`;
  const atTempo = bpm === undefined ? '' : ` at ${bpm} beats a minute`;
  return `${channels[channel].id} in sector ${barrel.sectors[sector].id}${ofTune}${atTempo}`;
}

/** "2.4 ms late" */
export function sideWords(meanMs: number): string {
  return `${Math.abs(meanMs).toFixed(1)} ms ${meanMs > 0 ? 'late' : 'early'}`;
}

/** "lever at 5, joint at 3": what these settings have otherwise than those; of a group, only what moves it. */
export function changesWords(
  belief: Belief,
  these: readonly number[],
  those: readonly number[],
  g?: number,
): string {
  return belief.machine.description.adjusters
    .flatMap(({ id }, a) =>
      these[a] !== those[a] && (g === undefined || belief.share[g][a] !== 0)
        ? [`${id} at ${withMinus(these[a])}`]
        : [],
    )
    .join(', ');
}
