/**
 * What may have happened beside what was noted. Each supposition is a column of lateness (what it would have done to every
 * group in every take) with a normal prior on its size; suppositions compete by how much likelier they make the takes
 * (Bayes factors: Kass & Raftery 1995, JASA 90, from memory) times how usual such a thing is.
 */
import type { Moves } from './series.ts';
import type { DesignColumn } from './fit.ts';

export type SuppositionKind =
  /** Groups moved at once though nothing that moves them was noted. */
  | 'moved'
  /** A ring or the reference slipped: all that is timed against it moved alike. */
  | 'slipped'
  /** Groups move by as much from every take to the next. */
  | 'drifts'
  /** The advice of the take before was carried out and not noted. */
  | 'work-not-noted'
  /** Noted, and not done. */
  | 'work-not-done'
  | 'work-done-twice'
  /** One unit more or less than noted. */
  | 'miscounted'
  /** What was noted of one adjuster was done at another. */
  | 'wrong-place'
  /** Two adjusters bear each other's names. */
  | 'labels-swapped'
  /** A joint moves other sectors than the file says. */
  | 'other-sectors'
  /** An adjuster moves a channel that the file does not name for it. */
  | 'moves-others'
  /** It does more or less than geometry says, or nothing, or the opposite: learned as its effect. */
  | 'own-size';

export interface Supposition {
  readonly kind: SuppositionKind;
  /** Before which round it happened; null where it holds of all rounds. */
  readonly before: number | null;
  /** Whose record or description is in doubt, by index; of a movement those that would have done it. */
  readonly adjusters: readonly number[];
  /** What it moves; without a tune: in any of them. */
  readonly moves: Moves;
  /** The one tune whose pins it moves; absent: those of all. */
  readonly tune?: string;
  readonly column: DesignColumn;
  /** Prior of its size: ms for movements, a multiple of what was noted for work, a share for couplings. */
  readonly mean: number;
  readonly sd: number;
  /** Logarithm of how usual it is. */
  readonly logPrior: number;
  /** In words, for a list of readings that fit as well: "lever-a was fitted where lever-b is". */
  readonly words: string;
}

/** A supposition that the takes uphold. */
export interface Upheld extends Supposition {
  /** Size as the takes tell it, and its standard deviation. */
  readonly size: number;
  readonly sizeSd: number;
  /** Others that fit about as well: which of them it is, these takes cannot tell. */
  readonly rivals: readonly Supposition[];
}
