/** Between which takes a movement happened, as far as they can tell: a take of another tune or tempo has no say in it. */
import type { Belief } from './belief.ts';
import type { Round } from './rounds.ts';
import { seriesOf, type Series } from './series.ts';
import type { Upheld } from './supposition.ts';

export interface RoundSpan {
  /** Indices of the rounds that it lies between. */
  readonly from: number;
  readonly to: number;
}

export interface MovedBetween extends RoundSpan {
  /** The first round that shows it. */
  readonly shownBy: number;
  /** Where it lies if the tunes that have no take on both sides of it moved too: their takes then have a say; absent where that is the same. */
  readonly ofAllTunes?: RoundSpan;
}

/**
 * A movement shows in a series that has rounds on both sides of it. Every place that parts each series' rounds in the same way
 * is as likely, and so it lies between the outermost of those. A tune that has no rounds on both sides does not tell whether it moved:
 * that it stood still up to its last take dates a movement of all tunes, and none of the others' pins alone.
 *
 * @param before the round before which it is supposed
 */
export function whenMoved(
  rounds: readonly Round[],
  { moves }: Pick<Upheld, 'moves'>,
  before: number,
): MovedBetween {
  const moved = seriesOf(rounds).filter(({ channel, sector, tune }) => moves(channel, sector, tune));
  const telling = new Set(moved.filter((series) => isAcross(series, before)).map(({ tune }) => tune));
  const own = spanOf(
    rounds,
    telling.size === 0 ? moved : moved.filter(({ tune }) => telling.has(tune)),
    before,
  );
  const all = spanOf(rounds, moved, before);
  const after = moved.flatMap((series) =>
    series.rounds[0] < before ? series.rounds.filter((round) => round >= before).slice(0, 1) : [],
  );
  return {
    ...own,
    shownBy: after.length > 0 ? Math.min(...after) : before,
    ...(all.from === own.from && all.to === own.to ? {} : { ofAllTunes: all }),
  };
}

/**
 * Whether a series tells of a movement: it has takes on both sides of it, and what was told before does not leave open what happened
 * between the two.
 *
 * @param upheld in the order in which they were told
 */
export function shows(upheld: readonly Upheld[], movement: Upheld, series: Series): boolean {
  const { before, moves } = movement;
  const { channel, sector, tune, rounds } = series;
  if (before === null || !moves(channel, sector, tune) || !isAcross(series, before)) return false;
  const from = Math.max(...rounds.filter((round) => round < before));
  const to = Math.min(...rounds.filter((round) => round >= before));
  const earlier = upheld.slice(0, Math.max(0, upheld.indexOf(movement)));
  return !earlier.some(
    (one) =>
      (one.kind === 'moved' || one.kind === 'slipped') &&
      one.moves(channel, sector, tune) &&
      one.before !== null &&
      one.before > from &&
      one.before <= to,
  );
}

/** The tunes that show a movement. */
export function shownIn({ rounds, upheld }: Pick<Belief, 'rounds' | 'upheld'>, movement: Upheld): string[] {
  const shown = seriesOf(rounds).filter((series) => shows(upheld, movement, series));
  return [...new Set(shown.flatMap(({ tune }) => (tune === undefined ? [] : [tune])))];
}

/** Whether a series has rounds on both sides of a place. */
export function isAcross({ rounds }: Pick<Series, 'rounds'>, before: number): boolean {
  return rounds[0] < before && rounds[rounds.length - 1] >= before;
}

function spanOf(rounds: readonly Round[], moved: readonly Series[], before: number): RoundSpan {
  // How many of its rounds come before; none and all say the same, as a level has no prior.
  const parts = (at: number) =>
    moved.map(({ rounds: own }) => own.filter((round) => round < at).length % own.length).join(' ');
  const here = parts(before);
  const alike = [...rounds.keys()].filter((at) => at > 0 && parts(at) === here);
  return { from: Math.min(before, ...alike) - 1, to: Math.max(before, ...alike) };
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
