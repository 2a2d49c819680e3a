/**
 * A pattern kept as a grid, as people draw it in a spreadsheet: a row a channel, a column a step, a mark where there is a pin.
 * Rows above the first channel are headings; where the last of them counts the steps, it says which columns they are.
 */
import type { TableRow } from '../input/table-row.ts';
import { InputProblem } from '../input/problem.ts';
import type { Pin } from './machine.ts';
import { placeOf } from './pattern-csv.ts';
import { channelOf } from './pattern-rows.ts';
import type { MachineDescription } from './schema.ts';

const marks = new Set(['x', '*', '1', 'o', '●', '•', '■', '█', '#', '✓', '✔', '+']);
const blanks = new Set(['', '.', '-', '–', '—', '_', '0', '·', '|']);
/** Fewer columns of a list are no grid of any barrel. */
const fewestColumns = 4;

/** Whether rows are a grid: no columns named "step" and "channel", and rows that begin with a channel and go on. */
export function isGrid(rows: readonly TableRow[], description: MachineDescription): boolean {
  const header = rows[0]?.cells.map((cell) => cell.toLowerCase()) ?? [];
  if (header.includes('step') && header.includes('channel')) return false;
  return rows.some(({ cells }) => cells.length >= fewestColumns && isChannel(cells[0], description));
}

/** Whether rows under "step,channel" are a grid all the same: each begins with a channel where its step should stand. */
export function isGridAsList(
  [header, ...rows]: readonly TableRow[],
  description: MachineDescription,
): boolean {
  const long = rows.filter(({ cells }) => cells.length >= fewestColumns);
  const isStepFirst = header?.cells[0].toLowerCase() === 'step';
  return isStepFirst && long.length > 0 && long.every(({ cells }) => isChannel(cells[0], description));
}

function isChannel(cell: string, { channels }: MachineDescription): boolean {
  return cell !== '' && channels.some(({ id, name }) => id === cell || name === cell);
}

/**
 * @returns the pins, without lines: a row holds many of them
 * @throws InputProblem with the line
 */
export function readGrid(file: string, rows: readonly TableRow[], description: MachineDescription): Pin[] {
  const first = rows.findIndex(({ cells }) => isChannel(cells[0], description));
  const steps = stepsOf(file, rows, first, description.barrel.steps);
  const taken = new Map<number, number>();
  const pins = rows.slice(first).flatMap(({ line, cells }): Pin[] => {
    const problem = (what: string, mend: string) => new InputProblem(file, `line ${line}`, what, mend);
    const channel = channelOf(cells[0], description.channels, problem);
    const before = taken.get(channel);
    if (before !== undefined) {
      const { id } = description.channels[channel];
      throw problem(`"${id}" has a row already, line ${before}`, 'put its pins into one row');
    }
    taken.set(channel, line);
    return cells.slice(1).flatMap((cell, i): Pin[] => {
      if (blanks.has(cell)) return [];
      if (!marks.has(cell.toLowerCase()))
        throw problem(
          `column ${i + 2} of the grid holds "${cell}"`,
          'write x where there is a pin, and leave the others empty',
        );
      if (i >= steps.length)
        throw problem(`there is a pin in column ${i + 2}, past the last step`, 'take it out');
      return [{ step: steps[i], channel, line: null }];
    });
  });
  if (pins.length > 0) return pins;
  throw new InputProblem(file, '', 'there is no pin in the grid', 'write x where there is a pin');
}

/** Which step each column after the first is. */
function stepsOf(file: string, rows: readonly TableRow[], first: number, steps: number): number[] {
  const refuse = (row: TableRow, what: string) =>
    new InputProblem(
      file,
      `line ${row.line}`,
      `this looks like a grid, a row a channel and a column a step; ${what}`,
      `give it a heading with the steps from 0 to ${steps - 1}, or as many columns as the barrel has steps`,
    );
  const heading = first > 0 ? rows[first - 1] : undefined;
  const cells = heading?.cells.slice(1) ?? [];
  const numbers = cells.map(placeOf);
  if (heading !== undefined && cells.length > 0 && numbers.every((step) => !Number.isNaN(step)))
    return counted(numbers, steps, (what) => refuse(heading, what));
  const widest = rows.slice(first).reduce((a, b) => (b.cells.length > a.cells.length ? b : a));
  const columns = widest.cells.length - 1;
  if (columns !== steps) throw refuse(widest, `it has ${columns} columns, and the barrel ${steps} steps`);
  return Array.from({ length: steps }, (_, i) => i);
}

/** People count from 1 as well as from 0; which of them it is shows only where all steps are there. */
function counted(
  numbers: readonly number[],
  steps: number,
  refuse: (what: string) => InputProblem,
): number[] {
  const isFromOne = numbers.every((step, i) => step === i + 1);
  if (isFromOne && numbers.length === steps) return numbers.map((step) => step - 1);
  if (isFromOne)
    throw refuse(`its steps are counted from 1 to ${numbers.length}, and the barrel has ${steps}`);
  const beyond = numbers.find((step) => step < 0 || step >= steps);
  if (beyond !== undefined) throw refuse(`step ${beyond} is not on the barrel`);
  const twice = numbers.find((step, i) => numbers.indexOf(step) !== i);
  if (twice !== undefined) throw refuse(`step ${twice} has two columns`);
  return [...numbers];
}
