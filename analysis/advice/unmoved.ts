/**
 * Changes that were noted and of which the takes before and after, set side by side, show next to nothing. The plan goes by
 * settings that may never have been fitted, and that is said before all else.
 */
import { withMinus } from '../words/minus.ts';
import { signedMs } from '../words/names.ts';
import type { Machine } from '../machine/machine.ts';
import type { Advice, Outcome } from '../results/results.ts';
import { NOTHING } from './effects.ts';

type Unmoved = NonNullable<Advice['unmoved']>;

/**
 * @param outcome of the newest take; null where nothing was changed before it
 * @param doubts  of the record: what they leave alone is said by them
 */
export function unmovedBy(
  { description }: Machine,
  outcome: Outcome | null,
  doubts: NonNullable<Advice['doubts']>,
): Unmoved {
  if (outcome === null) return [];
  return outcome.adjusters.flatMap(({ adjuster, from, to, expectedMs, seenMs, did, ...shown }) => {
    const now = description.adjusters.find(({ id }) => id === adjuster);
    const isStanding =
      now?.installed === to && doubts.every(({ adjusters }) => !adjusters.includes(adjuster));
    const measuredMs = did === 'nothing' ? seenMs : shown.measuredMs;
    if (!isStanding || typeof measuredMs !== 'number' || expectedMs === null) return [];
    return did === 'nothing' || Math.abs(measuredMs) < NOTHING * Math.abs(expectedMs)
      ? [{ adjuster, from, to, expectedMs, measuredMs, since: outcome.since }]
      : [];
  });
}

export function unmovedWords(unmoved: Unmoved): string[] {
  if (unmoved.length === 0) return [];
  const named = unmoved.map(
    ({ adjuster, from, to, measuredMs, expectedMs }) =>
      `${adjuster} ${withMinus(from)} → ${withMinus(to)} (${signedMs(measuredMs ?? 0, 1)} ms, expected ${signedMs(expectedMs ?? 0, 1)})`,
  );
  const those = unmoved.length === 1 ? 'it is' : 'they are';
  return [
    `In doubt before anything else: ${named.join(', ')} ${unmoved.length === 1 ? 'was' : 'were'} noted since take ${unmoved[0].since}, and the two takes show next to nothing of it; all that follows holds only if ${those} really fitted, so look first, and correct the settings in machine.jsonc and take.jsonc if not.`,
  ];
}
