/** Rows of a pattern kept as text, whatever laid them out: as a list of pins or as a grid. */
import type { TableRow } from '../input/table-row.ts';
import Papa from 'papaparse';
import { insteadOf } from '../input/nearest.ts';
import type { InputProblem } from '../input/problem.ts';
import type { MachineDescription } from './schema.ts';

/** Rows that hold anything, the first of them first. */
export function patternRows(bytes: Uint8Array): TableRow[] {
  return rowsOf(decode(bytes));
}

/** Bytes as text: UTF-16 by its mark, else UTF-8, else the Western European code page that older sheets write. */
function decode(bytes: Uint8Array): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return new TextDecoder('utf-16le').decode(bytes);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

function rowsOf(text: string): TableRow[] {
  // Comments are blanked rather than cut out, so that lines keep their numbers.
  const lines = text.replace(/\r\n?/g, '\n').replace(/^[ \t]*#.*$/gm, '');
  const header = lines.split('\n').find((line) => line.trim() !== '') ?? '';
  const delimiter = [';', '\t', '|', ','].find((mark) => header.includes(mark)) ?? ',';
  const { data } = Papa.parse<string[]>(lines, { delimiter, newline: '\n' });
  let line = 1;
  const rows = data.map((raw): TableRow => {
    const row = { line, cells: raw.map((cell) => cell.trim()) };
    line += 1 + raw.join('').split('\n').length - 1; // a quoted cell may run over several lines
    return row;
  });
  return rows.filter((row) => row.cells.some((cell) => cell !== ''));
}

/** A fault of one row: what is wrong, and how to mend it. */
export type RowProblem = (what: string, mend: string) => InputProblem;

/**
 * A channel by its id or its name, as an index.
 *
 * @throws InputProblem where there is none or are several
 */
export function channelOf(
  cell: string,
  channels: MachineDescription['channels'],
  problem: RowProblem,
): number {
  const ids = channels.map((channel) => channel.id);
  if (cell === '') throw problem('the channel is missing', insteadOf('', ids));
  const byId = ids.indexOf(cell);
  if (byId !== -1) return byId;
  const named = channels.flatMap((channel, i) => (channel.name === cell ? [i] : []));
  if (named.length === 1) return named[0];
  if (named.length > 1) throw problem(`several channels are called "${cell}"`, 'write the id instead');
  const names = channels.flatMap((channel) => (channel.name === undefined ? [] : [channel.name]));
  throw problem(`there is no channel "${cell}"`, insteadOf(cell, [...ids, ...names]));
}
