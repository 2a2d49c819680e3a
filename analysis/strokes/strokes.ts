/**
 * strokes/ lays hits on the barrel: which pin's each is, in which turn, how late. This file: strokes, hits that were
 * given a channel, a pin and a turn, and their lateness against the reference.
 */
import type { Hits } from '../hits/hits.ts';
import type { OtherTuneFit } from './other-tune.ts';
import type { WholeOffset } from './whole-steps.ts';

export interface Strokes {
  /** The hits these arrays run beside; same order, same length. */
  readonly hits: Hits;
  /** Turn of the barrel, 0 for the turn in which the take starts; −1 where the hit has no pin. */
  readonly turn: Int32Array;
  /** Step of the pin in the pattern, not whole off the grid; −1 where the hit has no pin. */
  readonly step: Float64Array;
  /** ms after the smooth rotation says it was due, what is meant taken off; NaN where the hit has no pin. */
  readonly latenessMs: Float64Array;
  /** null = used; otherwise why it is set aside ("misplaced pin", "no pin here", "masked", "outlier" …). */
  readonly why: readonly (string | null)[];
  readonly rotation: Rotation;
  /** Standard deviation of how well the beginning of each channel’s sound is known, ms: one error a take. Absent: none. */
  readonly onsetSdMs?: Float64Array;
  /** Step to which the markers’ times are rounded, ms; 0 or absent where they are not, or nothing is known by markers alone. */
  readonly stepMs?: number;
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
  /** Another tune than the one that was named explains the take clearly better. Nothing is laid then. Absent: none does. */
  readonly otherTune?: OtherTuneFit;
  /** A channel is silent, and another tune explains the rest better: all that is measured is in doubt. Absent: none does. */
  readonly perhapsTune?: OtherTuneFit;
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

/** How far chance alone moves a channel's stroke. */
export interface Chance {
  /** ms² */
  readonly variance: number;
  readonly degreesOfFreedom: number;
}

/** Variance of a contrast of lateness, by part, ms². */
export interface CourseError {
  /** Of the contrast's own strokes, as far as they helped to tell the course too. */
  readonly chance: number;
  readonly rotation: number;
  readonly referencePins: number;
  /** Of the three together. */
  readonly degreesOfFreedom: number;
}

export interface CourseErrors {
  /** By channel; null where the channel's strokes did not tell the course: then its chance is not in `of`. */
  readonly chance: readonly (Chance | null)[];
  /**
   * What Σ amounts·lateness is off its truth, that of the pins as they are fitted: positions of the strokes, unwrapped,
   * in steps; their amounts; their hits, as indices into `hits`.
   */
  readonly of: (
    positions: ArrayLike<number>,
    amounts: ArrayLike<number>,
    hits: ArrayLike<number>,
  ) => CourseError;
}

/** What stands for it where there is no course. */
export const noCourse: CourseErrors = {
  chance: [],
  of: () => ({ chance: NaN, rotation: NaN, referencePins: NaN, degreesOfFreedom: NaN }),
};

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
  /** Indices (into hits) of the reference strokes the rotation was fitted to. */
  readonly referenceHits: Int32Array;
  /** Period of a swing of the drive that the reference's strokes always meet at the same place, steps; null or absent: none. */
  readonly swingInStep?: number | null;
  /** How sure lateness is, as far as the barrel's course and chance make it. */
  readonly errors: CourseErrors;
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
