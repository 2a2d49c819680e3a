/** What a machine is, once its description has been read and checked. Everything downstream trusts these values. */
import type { MachineDescription } from './schema.ts';

/** A pin of the pattern: at this step of the barrel (from 0, below `steps`) that channel is due; not whole off the grid. */
export interface Pin {
  readonly step: number;
  /** Index into `machine.channels`. */
  readonly channel: number;
  /** Lateness that is meant, ms: the channel's, its sector's and its own together. Absent: 0. */
  readonly targetMs?: number;
  /** 1-based line of pattern.csv, or null where the pattern came from a MIDI file. */
  readonly line: number | null;
}

/** A pattern by name, of a barrel that shifts sideways. */
export interface Tune {
  readonly name: string;
  /** File of its pins, as machine.jsonc names it. */
  readonly pattern: string;
  readonly patternFile: string;
  readonly pins: readonly Pin[];
}

/** A machine description with its pattern: the part of the world that does not change while a take is recorded. */
export interface Machine {
  /** The checked contents of machine.jsonc, defaults filled in. */
  readonly description: MachineDescription;
  /** Path of machine.jsonc as the person knows it; used in messages. */
  readonly file: string;
  readonly patternFile: string;
  /** Ascending by step, then channel; no two alike. */
  readonly pins: readonly Pin[];
  /** Of a machine with several tunes: which of them `pins` and `patternFile` are of, and all of them (tune.ts). */
  readonly tune?: string;
  readonly tunes?: readonly Tune[];
  /** Index of the reference in `description.channels`. */
  readonly reference: number;
}
