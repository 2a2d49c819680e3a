/**
 * Tunes that do not tell whether they moved with the others. A movement that takes of one tune, or of two alike, show lies somewhere between
 * their takes; a tune that was not recorded after all of that may have been recorded before it.
 */
import type { Round } from './rounds.ts';
import type { Series } from './series.ts';
import type { Upheld } from './supposition.ts';
import { isAcross, whenMoved } from './when-moved.ts';

/**
 * Whether something may have moved a tune's series since its newest take, though none of its own takes shows it.
 *
 * @param upheld what the takes of all tunes show
 */
export function isUntold(upheld: readonly Upheld[], rounds: readonly Round[], series: Series): boolean {
  const { channel, sector, tune } = series;
  const newest = series.rounds[series.rounds.length - 1];
  const endOf = (one: Upheld) => (one.before === null ? -1 : whenMoved(rounds, one, one.before).to);
  const moved = upheld.filter(
    ({ kind, before }) => (kind === 'moved' || kind === 'slipped') && before !== null,
  );
  const ofAll = moved.some(
    (one) =>
      one.tune === undefined &&
      one.moves(channel, sector, tune) &&
      !isAcross(series, one.before!) &&
      newest < endOf(one),
  );
  if (ofAll) return true;
  // Two tunes that moved alike, if not by as much, are no pins of one tune alone.
  const ofOthers = moved.filter(
    (one) => one.tune !== undefined && one.tune !== tune && one.moves(channel, sector, one.tune),
  );
  return ofOthers.some(
    (one) =>
      newest < endOf(one) &&
      ofOthers.some((two) => two.tune !== one.tune && Math.sign(two.size) === Math.sign(one.size)),
  );
}
