/** Reads the pattern, the pins of the barrel, from pattern.csv, a list or a grid, or a Standard MIDI File. */
import type { ProblemAt } from '../input/jsonc.ts';
import { InputProblem } from '../input/problem.ts';
import type { Pin } from './machine.ts';
import { readPinList, stepParts } from './pattern-csv.ts';
import { isGrid, isGridAsList, readGrid } from './pattern-grid.ts';
import { readMidiPattern } from './pattern-midi.ts';
import { patternRows } from './pattern-rows.ts';
import type { MachineDescription } from './schema.ts';

/** The step of an unwrapped position, as patterns write it. */
export function wrappedStep(position: number, steps: number): number {
  const step = Math.round((position - steps * Math.floor(position / steps)) * stepParts) / stepParts;
  return step === steps ? 0 : step;
}

/** A million pins in lines of their own; the largest barrel has a hundred thousand steps. */
const maxPatternBytes = 16 * 2 ** 20;

/**
 * @param file    path of the pattern as the person knows it; its ending tells its kind
 * @param problem makes a fault at a path of machine.jsonc, for what must be mended there
 * @returns the pins, ascending by step, then channel; at least one, no two alike
 * @throws InputProblem
 */
export function readPattern(
  file: string,
  bytes: Uint8Array,
  description: MachineDescription,
  problem: ProblemAt,
): Pin[] {
  if (bytes.length > maxPatternBytes) {
    throw new InputProblem(file, '', 'the file is longer than 16 MiB', 'keep one turn of one barrel in it');
  }
  const pins = /\.midi?$/i.test(file)
    ? readMidiPattern(file, bytes, description, problem)
    : readText(file, bytes, description);
  return pins.sort((a, b) => a.step - b.step || a.channel - b.channel);
}

function readText(file: string, bytes: Uint8Array, description: MachineDescription): Pin[] {
  const rows = patternRows(bytes);
  if (isGrid(rows, description)) return readGrid(file, rows, description);
  if (isGridAsList(rows, description))
    throw new InputProblem(
      file,
      `line ${rows[0].line}`,
      'this looks like a grid, a row a channel and a column a step, under the heading of a list',
      'take the line "step,channel" out',
    );
  return readPinList(file, rows, description);
}
