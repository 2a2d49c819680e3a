/** Between which takes a movement happened, as far as they can tell: a take of another tune or tempo has no say in it. */
import type { Round } from './rounds.ts';
import { seriesOf } from './series.ts';
import type { Upheld } from './supposition.ts';

export interface Between {
  /** Indices of the rounds that it lies between. */
  readonly from: number;
  readonly to: number;
  /** The first round that shows it. */
  readonly shownBy: number;
}

/**
 * A movement shows in a series that has rounds on both sides of it. Every place that parts each series' rounds in the same way
 * is as likely, and so it lies between the outermost of those.
 *
 * @param before the round before which it is supposed
 */
export function whenMoved(
  rounds: readonly Round[],
  { moves }: Pick<Upheld, 'moves'>,
  before: number,
): Between {
  const moved = seriesOf(rounds).filter(({ channel, sector, tune }) => moves(channel, sector, tune));
  // How many of its rounds come before; none and all say the same, as a level has no prior.
  const parts = (at: number) =>
    moved.map(({ rounds: own }) => own.filter((round) => round < at).length % own.length).join(' ');
  const here = parts(before);
  const alike = [...rounds.keys()].filter((at) => at > 0 && parts(at) === here);
  const after = moved.flatMap(({ rounds: own }) =>
    own[0] < before ? own.filter((round) => round >= before).slice(0, 1) : [],
  );
  const from = Math.min(before, ...alike) - 1;
  const to = Math.max(before, ...alike);
  return { from, to, shownBy: after.length > 0 ? Math.min(...after) : before };
}

/** The last round up to this one that measured what moves; the first where none did before it. */
export function lastThatTells(
  rounds: readonly Round[],
  { moves }: Pick<Upheld, 'moves'>,
  upTo: number,
): number {
  const own = seriesOf(rounds).flatMap((series) =>
    moves(series.channel, series.sector, series.tune) ? [...series.rounds] : [],
  );
  const before = own.filter((round) => round <= upTo);
  return before.length > 0 ? Math.max(...before) : own.length > 0 ? Math.min(...own) : upTo;
}
