/** Which column of a table of markers is which: by its header's words, or by what its cells look like. */
import { parseTime, type Unit } from './times.ts';

/** A row of cells; `line` is 1-based, of the file. */
export interface Row {
  readonly line: number;
  readonly cells: readonly string[];
}

export interface Columns {
  /** Whether the first row is a header. */
  readonly header: boolean;
  readonly time: number;
  readonly end: number | null;
  readonly duration: number | null;
  readonly label: number | null;
  /** Of bare numbers; null where nothing says. */
  readonly unit: Unit | null;
}

const timeWords = [
  'time',
  'times',
  'start',
  'begin',
  'beginning',
  'onset',
  'timestamp',
  'position',
  'pos',
  'from',
  'in',
  'at',
  'when',
  'seconds',
  'second',
  'sec',
  'sample',
  'samples',
  'frame',
  'frames',
  'offset',
  't',
  's',
];
const endWords = ['end', 'stop', 'finish', 'until', 'to', 'out'];
const durationWords = ['duration', 'dur', 'length', 'len', 'span'];
const labelWords = [
  'label',
  'labels',
  'name',
  'channel',
  'text',
  'title',
  'marker',
  'event',
  'description',
  'annotation',
  'comment',
  'cue',
  'region',
  'value',
  'note',
];

/** @returns null where the first row is no header that names a time */
export function columnsByHeader(first: Row): Columns | null {
  if (first.cells.some((cell) => parseTime(cell) !== null)) return null;
  const words = first.cells.map(wordsOf);
  const taken = new Set<number>();
  const find = (names: readonly string[], unless: readonly string[] = []): number | null => {
    for (const name of names) {
      const index = words.findIndex(
        (cell, i) => !taken.has(i) && cell.includes(name) && !cell.some((word) => unless.includes(word)),
      );
      if (index === -1) continue;
      taken.add(index);
      return index;
    }
    return null;
  };
  const aside = [...endWords, ...durationWords, 'rate'];
  const label = find(labelWords, [...timeWords.slice(0, 2), 'start', 'number', 'position']);
  const time = find(timeWords, aside);
  if (time === null) return null;
  const duration = find(durationWords);
  const end = find(endWords);
  return {
    header: true,
    time,
    end,
    duration: end === null ? duration : null,
    label,
    unit: unitOf(words[time]),
  };
}

/** "Start (ms)", "start_ms", "startMs" → start, ms */
function wordsOf(cell: string): string[] {
  return cell
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .split(/[^\p{L}\p{N}]+/u)
    .filter((word) => word !== '');
}

function unitOf(words: readonly string[]): Unit | null {
  const has = (...names: string[]) => names.some((name) => words.includes(name));
  if (has('ms', 'msec', 'milliseconds', 'millisecond')) return 'ms';
  if (has('sample', 'samples', 'smp', 'frame', 'frames')) return 'samples';
  return has('s', 'sec', 'secs', 'second', 'seconds') ? 's' : null;
}

/** Share of a column's cells that must be times for it to be one: single rows may be spoilt. */
const mostly = 0.5;

/** @returns null where no column holds times */
export function columnsByContent(rows: readonly Row[]): Columns | null {
  const width = rows.reduce((max, row) => Math.max(max, row.cells.length), 0);
  const values = (column: number) => rows.map((row) => parseTime(row.cells[column] ?? '')?.value ?? NaN);
  const isTime = (column: number) =>
    values(column).filter((value) => !Number.isNaN(value)).length > mostly * rows.length;
  const columns = Array.from({ length: Math.min(width, 16) }, (_, i) => i);
  const time = columns.find(isTime);
  if (time === undefined) return null;
  const next = time + 1;
  const starts = values(time);
  const follows = next < width && isTime(next) && !values(next).some((end, i) => end < starts[i]);
  const end = follows ? next : null;
  const others = columns.filter((column) => column !== time && column !== end);
  const hasText = (column: number) =>
    rows.some((row) => (row.cells[column] ?? '') !== '' && parseTime(row.cells[column]) === null);
  const label = others.find((column) => column > time && hasText(column)) ?? others.find(hasText) ?? null;
  return { header: false, time, end, duration: null, label: label ?? (end ?? time) + 1, unit: null };
}
