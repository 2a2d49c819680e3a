/**
 * Delimited text, one marker a row, in the forms that programs export: comma, tab, semicolon, bar or space between
 * cells; with a header or without; seconds, h:m:s or samples; with an end, a length, a label, or none of them.
 * columns.ts finds which column is which.
 */
import type { TableRow } from '../../input/table-row.ts';
import Papa from 'papaparse';
import { InputProblem } from '../../input/problem.ts';
import type { Notice } from '../take.ts';
import {
  believed,
  columnsByContent,
  columnsByHeader,
  looksLikeHeader,
  type ByContent,
  type Columns,
} from './columns.ts';
import {
  maxMarkers,
  refuseTooMany,
  textOf,
  unmarkedUtf16,
  unreadable,
  wholeFile,
  type AudioFacts,
  type MarkerReader,
  type RawMarker,
} from './marker-reader.ts';
import { parseTime, type Unit } from './times.ts';

export const delimitedText: MarkerReader = {
  what: 'delimited text',
  recognises: (name, head) => /\.(csv|tsv|tab|txt|labels?)$/i.test(name) && !isBinary(head),
  async read(file, audio) {
    const rows = withoutRemarks(rowsOf(textOf(await wholeFile(file))));
    refuseTooMany(file.name, rows.length - 1);
    const isTable = /\.(csv|tsv|tab)$/i.test(file.name);
    if (rows.length === 0) {
      if (!isTable) return null;
      throw new InputProblem(
        file.name,
        '',
        'the file is empty',
        'export the markers again, or remove the file',
      );
    }
    const found = columnsOf(rows, audio?.lengthS ?? Infinity);
    if (found === null) {
      if (!isTable) return null; // somebody's notes
      const what = 'no column of times is found';
      throw new InputProblem(file.name, `line ${rows[0].line}`, what, 'write "time,label" as the first line');
    }
    if ('doubtful' in found) {
      const which = found.doubtful.map((column) => column + 1).join(' and ');
      const what = `columns ${which} both rise like times, and no header says which holds them`;
      throw new InputProblem(
        file.name,
        `line ${rows[0].line}`,
        what,
        'write the columns’ names as the first line, "time" above the times',
      );
    }
    const { columns } = found;
    const body = columns.header ? rows.slice(1) : rows;
    const unit = unitFor(body, columns, audio);
    const toSeconds = scaleOf(file.name, rows[0].line, unit, audio);
    const nameOf = (column: number | null) =>
      column === null ? null : (columns.header && rows[0].cells[column]) || `column ${column + 1}`;
    const reading = {
      time: nameOf(columns.time)!,
      unit,
      end: nameOf(columns.end ?? columns.duration),
      label: nameOf(columns.label),
    };
    return { ...markersOf(file.name, body, columns, unit, toSeconds), reading };
  },
};

function columnsOf(rows: readonly TableRow[], lengthS: number): ByContent | null {
  const [first, ...rest] = rows;
  const named = columnsByHeader(first);
  if (named !== null) return { columns: believed(named, rest) };
  return looksLikeHeader(first, rest)
    ? columnsByContent(rest, lengthS, first)
    : columnsByContent(rows, lengthS);
}

function isBinary(head: Uint8Array): boolean {
  const marked = (head[0] === 0xff && head[1] === 0xfe) || (head[0] === 0xfe && head[1] === 0xff);
  return !marked && unmarkedUtf16(head) === null && head.includes(0);
}

type ToSeconds = (value: number, unit: Unit | null) => number;

/** Samples are whole: what divides their digits into threes is no decimal point. */
const grouped = /^\d{1,3}(?:[.,'’\u00a0\u202f ]\d{3})+$/;

function timeIn(cell: string, unit: Unit): ReturnType<typeof parseTime> {
  const text = cell.trim();
  return unit === 'samples' && grouped.test(text)
    ? { value: Number(text.replace(/\D/g, '')), unit: null }
    : parseTime(text);
}

function markersOf(
  file: string,
  rows: readonly TableRow[],
  columns: Columns,
  unit: Unit,
  toSeconds: ToSeconds,
) {
  const markers: RawMarker[] = [];
  const notices: Notice[] = [];
  for (const { line, cells } of rows) {
    const place = `line ${line}`;
    const time = timeIn(cells[columns.time] ?? '', unit);
    if (time === null) {
      // What begins with # and is no marker is a remark.
      if (!cells[0].startsWith('#'))
        notices.push(unreadable(file, place, `${quote(cells[columns.time])} is no time`));
      continue;
    }
    const timeS = toSeconds(time.value, time.unit);
    const endS = endOf(cells, columns, timeS, (text) => {
      const end = timeIn(text, unit);
      return end === null ? null : toSeconds(end.value, end.unit);
    });
    const label = columns.label === null ? '' : (cells[columns.label] ?? '');
    if (endS === 'unreadable')
      notices.push(unreadable(file, place, 'its end is no time, or lies before its start'));
    else markers.push({ timeS, endS, label, place });
  }
  if (markers.length === 0 && rows.length > 0 && notices.length > 0) {
    const what = `no line has a time: ${quote(rows[0].cells[columns.time])} is none`;
    throw new InputProblem(
      file,
      notices[0].place,
      what,
      'write seconds, h:m:s, or samples under a header "sample"',
    );
  }
  return { markers, notices };
}

function endOf(
  cells: readonly string[],
  columns: Columns,
  timeS: number,
  secondsOf: (text: string) => number | null,
) {
  const at = columns.end ?? columns.duration;
  const text = at === null ? '' : (cells[at] ?? '');
  if (text === '' || /^[-–]$/.test(text)) return null;
  const value = secondsOf(text);
  if (value === null) return 'unreadable';
  const endS = columns.end === null ? timeS + value : value;
  if (endS < timeS) return 'unreadable';
  return endS > timeS ? endS : null;
}

/** Bare numbers are what the header says; else seconds, unless they are whole and far beyond the recording's end. */
function unitFor(rows: readonly TableRow[], columns: Columns, audio: AudioFacts | null): Unit {
  return columns.unit ?? (audio && areSamples(rows, columns, audio) ? 'samples' : 's');
}

function scaleOf(file: string, line: number, unit: Unit, audio: AudioFacts | null): ToSeconds {
  return (value, own) => {
    const as = own ?? unit;
    if (as === 's') return value;
    if (as === 'ms') return value / 1000;
    if (audio) return value / audio.sampleRate;
    const what = 'the times are in samples, and no audio says how many make a second';
    throw new InputProblem(file, `line ${line}`, what, 'put the audio beside it, or export seconds');
  };
}

/** How far beyond the recording's end whole numbers must reach to be taken for samples: rates are in the thousands. */
const farBeyond = 10;

function areSamples(rows: readonly TableRow[], columns: Columns, audio: AudioFacts): boolean {
  const texts = rows.map((row) => (row.cells[columns.time] ?? '').trim()).filter((text) => text !== '');
  if (!texts.every((text) => /^\d+$/.test(text))) return false;
  const last = texts.reduce((max, text) => Math.max(max, Number(text)), 0);
  return last > farBeyond * audio.lengthS && last <= audio.lengthS * audio.sampleRate;
}

/** Cells of every line that has any; a header may begin with "#". */
function rowsOf(text: string): TableRow[] {
  const unified = text.replace(/^\uFEFF/, '').replace(/\r\n?/g, '\n');
  // Spreadsheets may name their delimiter in a first line of its own.
  const named = /^sep=(.)\n/.exec(unified);
  const body = named ? unified.replace(/^.*/, '') : unified;
  const { data } = Papa.parse<string[]>(body, {
    delimiter: named?.[1] ?? delimiterOf(body),
    newline: '\n',
    preview: maxMarkers + 1000, // one past the bound is enough to refuse
  });
  let line = 1;
  const rows = data.map((raw): TableRow => {
    const row = { line, cells: raw.map((cell) => cell.trim()) };
    line += 1 + (raw.join('').split('\n').length - 1); // a quoted cell may run over several lines
    return row;
  });
  return rows.filter((row) => row.cells.some((cell) => cell !== ''));
}

/** Remarks before the first marker begin with "#", but so may a header, whose first column counts the markers. */
function withoutRemarks(rows: readonly TableRow[]): readonly TableRow[] {
  const first = rows.findIndex((row) => !row.cells[0].startsWith('#') || columnsByHeader(row) !== null);
  return first === -1 ? [] : rows.slice(first);
}

/** Lines that the delimiter is judged by. */
const judgedLines = 50;
const judgedLetters = 50_000;

/** The first of tab, semicolon, bar, comma and space that nearly every line has outside quotes. */
function delimiterOf(body: string): string {
  const lines = body
    .slice(0, judgedLetters)
    .replace(/"[^"]*"/g, '""') // before lines are told apart: a quoted cell may run over several
    .split('\n', judgedLines)
    .filter((line) => line.trim() !== '' && !/^#\s/.test(line));
  const sharedBy = (mark: string) => lines.filter((line) => line.includes(mark)).length / lines.length;
  return ['\t', ';', '|', ',', ' '].find((mark) => sharedBy(mark) >= 0.8) ?? ',';
}

function quote(cell: string | undefined): string {
  return cell === undefined || cell === '' ? 'an empty cell' : JSON.stringify(cell.slice(0, 40));
}
