/**
 * What the core needs of whoever runs it. Hosts (a terminal, an editor, a worker) implement these; the core never
 * reaches for a file system, a clock or a document by itself.
 */

/** A file that can be read in parts, so that an hour of audio never has to be in memory at once. */
export interface SourceFile {
  /** Name within its folder, without directories. */
  readonly name: string;
  readonly sizeBytes: number;
  /** Bytes from `start` (default 0) up to, not including, `end` (default the size). Shorter at the end of the file. */
  read(start?: number, end?: number): Promise<Uint8Array>;
}

/** The stages of an analysis, in the order in which they run. */
export type Stage = 'reading' | 'hearing' | 'laying' | 'checking' | 'advising' | 'reporting';

/** One run of the core: how it tells how far it is, and how it is stopped. */
export interface Run {
  /** @param fraction 0 to 1 within the stage */
  readonly progress?: (stage: Stage, fraction: number) => void;
  /** When it aborts, the core throws the signal's reason at the next step and returns nothing. */
  readonly signal?: AbortSignal;
}

/** Solves a mixed-integer program given as text in the CPLEX LP format. */
export type IntegerSolver = (
  model: string,
  options?: {
    /** Nodes of the branch-and-bound tree; without it the program is solved to its end. Time is no bound: an answer must not depend on how busy a computer is. */
    readonly nodeLimit?: number;
    /** Values to start from, by variable; need be neither complete nor feasible. */
    readonly start?: ReadonlyMap<string, number>;
  },
) => Promise<IntegerSolution>;

export interface IntegerSolution {
  readonly status: 'optimal' | 'infeasible' | 'node-limit' | 'other';
  /** null where there is no feasible point */
  readonly objective: number | null;
  /** Relative gap between the solution and the proven bound; 0 when proven optimal, null when unknown. */
  readonly gap: number | null;
  /** No solution is better than this; null when unknown. */
  readonly bound: number | null;
  readonly values: ReadonlyMap<string, number>;
}
