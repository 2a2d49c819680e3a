/**
 * pattern.csv: a header with `step` and `channel`, then one pin a row. Comma, semicolon, tab or bar between cells,
 * blank lines, lines that begin with `#`, and further columns are all welcome; a channel goes by its id or its name.
 * Steps between the holes are decimal or have a fraction: 16.5, 16,5 (where cells are not parted by commas), 5 1/3. A
 * column `offset ms` says how late or early a pin is meant.
 */
import type { TableRow } from '../input/table-row.ts';
import { InputProblem } from '../input/problem.ts';
import type { Pin } from './machine.ts';
import { channelOf, type RowProblem } from './pattern-rows.ts';
import { mostTargetMs, type MachineDescription } from './schema.ts';

/** @throws InputProblem with the line */
export function readPinList(
  file: string,
  [header, ...rows]: readonly TableRow[],
  description: MachineDescription,
): Pin[] {
  if (!header)
    throw new InputProblem(file, '', 'the file is empty', 'write "step,channel", then a pin a line');
  const column = columnsOf(file, header);
  if (rows.length === 0) {
    throw new InputProblem(file, `line ${header.line}`, 'no pins follow the header', 'write a pin a line');
  }
  const taken = new Map<string, number>();
  return rows.map(({ line, cells }) => {
    const problem = (what: string, mend: string) => new InputProblem(file, `line ${line}`, what, mend);
    const step = stepOf(cells[column.step] ?? '', description.barrel.steps, problem);
    const channel = channelOf(cells[column.channel] ?? '', description.channels, problem);
    const targetMs = column.offset === -1 ? 0 : offsetOf(cells[column.offset] ?? '', problem);
    const pin = `${step} ${channel}`;
    const before = taken.get(pin);
    if (before !== undefined) {
      const id = description.channels[channel].id;
      throw problem(
        `"${id}" has a pin at step ${step} already, in line ${before}`,
        'remove one of the two, or give it a decimal step such as 4.25',
      );
    }
    taken.set(pin, line);
    return { step, channel, line, ...(targetMs === 0 ? {} : { targetMs }) };
  });
}

/** Of the column of offsets; a bare "offset" may be anything of a person's own. */
const offsetHeaders = ['offset ms', 'offset_ms', 'offsetms'];

/** @returns places of the columns; −1 for the offset where there is none */
function columnsOf(file: string, header: TableRow): { step: number; channel: number; offset: number } {
  const names = header.cells.map((cell) => cell.toLowerCase());
  const missing = ['step', 'channel'].filter((name) => !names.includes(name));
  if (missing.length > 0) {
    const what = `the header has no column ${missing.map((name) => `"${name}"`).join(' and no column ')}`;
    throw new InputProblem(file, `line ${header.line}`, what, 'make the first line "step,channel"');
  }
  return {
    step: names.indexOf('step'),
    channel: names.indexOf('channel'),
    offset: names.findIndex((name) => offsetHeaders.includes(name)),
  };
}

/** A step between the holes is kept to this part of a step: some µs of a turn of any barrel. */
export const stepParts = 10_000;

/** A step as written: whole, decimal, or with a fraction; NaN where it is none of them. */
export function placeOf(cell: string): number {
  const fraction = /^(\d+) +(\d+)\/(\d+)$/.exec(cell);
  const [whole, over, under] = fraction === null ? [NaN, NaN, NaN] : fraction.slice(1).map(Number);
  const value = fraction !== null ? (over < under ? whole + over / under : NaN) : decimal(cell);
  return Number.isFinite(value) ? Math.round(value * stepParts) / stepParts : NaN;
}

function decimal(cell: string): number {
  return /^[+-]?\d+([.,]\d+)?$/.test(cell) ? Number(cell.replace(',', '.')) : NaN;
}

function offsetOf(cell: string, problem: RowProblem): number {
  if (cell === '') return 0;
  const offsetMs = decimal(cell);
  if (Number.isNaN(offsetMs)) {
    throw problem(`offset "${cell}" is not a number`, 'write ms, such as 8 or -3.5, or leave it empty');
  }
  if (Math.abs(offsetMs) > mostTargetMs) {
    throw problem(
      `an offset of ${cell} ms is beyond ±${mostTargetMs} ms`,
      'give the pin a decimal step instead, such as 4.5',
    );
  }
  return offsetMs;
}

function stepOf(cell: string, steps: number, problem: RowProblem): number {
  if (cell === '') throw problem('the step is missing', `write one from 0 to ${steps - 1}`);
  const step = placeOf(cell);
  if (Number.isNaN(step)) {
    throw problem(
      `step "${cell}" is not a number`,
      `write one from 0 to ${steps - 1}, or between them such as 4.5 or 5 1/3`,
    );
  }
  if (step < 0 || step >= steps) {
    throw problem(`step ${cell} is not on the barrel`, `steps run from 0 to ${steps - 1}`);
  }
  return step;
}
