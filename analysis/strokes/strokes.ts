/**
 * strokes/ lays hits on the barrel: which pin's each is, in which turn, how late. This file: strokes, hits that were
 * given a channel, a pin and a turn, and their lateness against the reference.
 */
import type { Hits } from '../hits/hits.ts';
import type { WholeOffset } from './whole-steps.ts';

export interface Strokes {
  /** The hits these arrays run beside; same order, same length. */
  readonly hits: Hits;
  /** Turn of the barrel, 0 for the turn in which the take starts; −1 where the hit has no pin. */
  readonly turn: Int32Array;
  /** Step of the pin in the pattern; −1 where the hit has no pin. */
  readonly step: Int32Array;
  /** ms after the smooth rotation says it was due; NaN where the hit has no pin. */
  readonly latenessMs: Float64Array;
  /** null = used; otherwise why it is set aside ("misplaced pin", "no pin here", "masked", "outlier" …). */
  readonly why: readonly (string | null)[];
  readonly rotation: Rotation;
  readonly misplaced: readonly MisplacedPin[];
  /** Strokes that the pattern asked for, between the first and last turn heard, and nobody heard. */
  readonly missing: readonly MissingStroke[];
  /** Channels and sectors that lie off as a whole, by half a step and more; measured where they lie. */
  readonly whole: readonly WholeOffset[];
  /**
   * By channel, whose pins its sounds sit at: its own index, but for channels that are swapped, whose hits are all set
   * aside. Empty where no rotation was found.
   */
  readonly sitsAt: readonly number[];
  /** true: only with its steps counted the other way round does the pattern explain the take. Nothing is laid then. */
  readonly mirrored: boolean;
  /** Where the drive stood still, in order; empty where it never did. Strokes due then are set aside. */
  readonly stands: readonly Stand[];
}

/** An interval in which the drive stood. */
export interface Stand {
  /** Last stroke before it stood, s. */
  readonly fromS: number;
  /** How long it stood, stopping and starting included, s. */
  readonly lostS: number;
  /** Positions of the reference's last stroke before and its first after: beyond the take where it has none. */
  readonly fromPosition: number;
  readonly toPosition: number;
  /** When those sounded, s. */
  readonly knownUntilS: number;
  readonly knownFromS: number;
}

/** How the barrel turned during the take. */
export interface Rotation {
  /** false where no rotation could be fitted: then no hit has a pin. */
  readonly found: boolean;
  readonly secondsPerTurn: number;
  readonly secondsPerTurnCi95: number;
  /** Barrel position (in steps, unwrapped: turn·steps + step) at t = 0. */
  readonly startPosition: number;
  /** Time at which an unwrapped position was reached, s: the smooth rotation. */
  readonly timeAt: (position: number) => number;
  /** Other start steps that explain the take as well; empty where the rotation is unambiguous. */
  readonly rivals: readonly number[];
  /** How the start was settled where rivals exist. */
  readonly settledBy: 'pattern' | 'startStep' | 'sector-markers' | 'unsettled';
  /**
   * Weight of each reference stroke in a mean of `timeAt` over the given positions: what the reference's own noise
   * does to a group's mean. Index = position in `referenceHits`.
   */
  readonly referenceWeights: (positions: Float64Array) => Float64Array;
  /** Indices (into hits) of the reference strokes the rotation was fitted to. */
  readonly referenceHits: Int32Array;
  /** Standard deviation of a reference stroke about the smooth rotation, s. */
  readonly referenceSdS: number;
  /** Of `referenceSdS`; NaN where the reference was not heard. */
  readonly referenceDegreesOfFreedom: number;
  /**
   * Variance, s², that the reference brings into a mean of `timeAt` over positions: its chance, its pins' own constants,
   * and speed changes between its strokes. For a group of the reference's own strokes, their indices in `referenceHits`
   * are handed in too, and the variance is that of their mean lateness, their own chance in it.
   */
  readonly referenceVarianceS2: (positions: ArrayLike<number>, own?: ArrayLike<number>) => number;
  /** The same for a single position, on average over the take. */
  readonly pointVarianceS2: number;
  /** Only where the reference is on the barrel: each sector's step, ms, and its half-width; sums to zero. */
  readonly referenceSectors: readonly {
    readonly sector: number;
    readonly stepMs: number;
    readonly ci95Ms: number;
  }[];
}

export interface MisplacedPin {
  readonly channel: number;
  readonly step: number;
  readonly foundStep: number;
  readonly count: number;
}

export interface MissingStroke {
  readonly channel: number;
  readonly step: number;
  readonly turn: number;
  readonly dueS: number;
}
