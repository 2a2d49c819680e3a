/**
 * Delimited text, one marker a row, in the forms that programs export: comma, tab, semicolon, bar or space between
 * cells; with a header or without; seconds, h:m:s or samples; with an end, a length, a label, or none of them.
 * columns.ts finds which column is which.
 */
import Papa from 'papaparse';
import { InputProblem } from '../../problem.ts';
import type { Notice } from '../take.ts';
import { columnsByHeader, columnsByContent, type Columns, type Row } from './columns.ts';
import {
  maxMarkers,
  refuseTooMany,
  textOf,
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
    const columns = columnsByHeader(rows[0]) ?? columnsByContent(rows);
    if (columns === null) {
      if (!isTable) return null; // somebody's notes
      const what = 'no column of times is found';
      throw new InputProblem(file.name, `line ${rows[0].line}`, what, 'write "time,label" as the first line');
    }
    const body = columns.header ? rows.slice(1) : rows;
    const toSeconds = scaleOf(file.name, rows[0].line, body, columns, audio);
    return markersOf(file.name, body, columns, toSeconds);
  },
};

function isBinary(head: Uint8Array): boolean {
  const marked = (head[0] === 0xff && head[1] === 0xfe) || (head[0] === 0xfe && head[1] === 0xff);
  return !marked && head.includes(0);
}

type ToSeconds = (value: number, unit: Unit | null) => number;

function markersOf(file: string, rows: readonly Row[], columns: Columns, toSeconds: ToSeconds) {
  const markers: RawMarker[] = [];
  const notices: Notice[] = [];
  for (const { line, cells } of rows) {
    const place = `line ${line}`;
    const time = parseTime(cells[columns.time] ?? '');
    if (time === null) {
      // What begins with # and is no marker is a remark.
      if (!cells[0].startsWith('#'))
        notices.push(unreadable(file, place, `${quote(cells[columns.time])} is no time`));
      continue;
    }
    const timeS = toSeconds(time.value, time.unit);
    const endS = endOf(cells, columns, timeS, toSeconds);
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

function endOf(cells: readonly string[], columns: Columns, timeS: number, toSeconds: ToSeconds) {
  const at = columns.end ?? columns.duration;
  const text = at === null ? '' : (cells[at] ?? '');
  if (text === '' || /^[-–]$/.test(text)) return null;
  const end = parseTime(text);
  if (end === null) return 'unreadable';
  const value = toSeconds(end.value, end.unit);
  const endS = columns.end === null ? timeS + value : value;
  if (endS < timeS) return 'unreadable';
  return endS > timeS ? endS : null;
}

/** Bare numbers are what the header says; else seconds, unless they are whole and far beyond the recording's end. */
function scaleOf(
  file: string,
  line: number,
  rows: readonly Row[],
  columns: Columns,
  audio: AudioFacts | null,
): ToSeconds {
  const unit = columns.unit ?? (audio && areSamples(rows, columns, audio) ? 'samples' : 's');
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

function areSamples(rows: readonly Row[], columns: Columns, audio: AudioFacts): boolean {
  const texts = rows.map((row) => (row.cells[columns.time] ?? '').trim()).filter((text) => text !== '');
  if (!texts.every((text) => /^\d+$/.test(text))) return false;
  const last = texts.reduce((max, text) => Math.max(max, Number(text)), 0);
  return last > farBeyond * audio.lengthS && last <= audio.lengthS * audio.sampleRate;
}

/** Cells of every line that has any; a header may begin with "#". */
function rowsOf(text: string): Row[] {
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
  const rows = data.map((raw): Row => {
    const row = { line, cells: raw.map((cell) => cell.trim()) };
    line += 1 + (raw.join('').split('\n').length - 1); // a quoted cell may run over several lines
    return row;
  });
  return rows.filter((row) => row.cells.some((cell) => cell !== ''));
}

/** Remarks before the first marker begin with "#", but so may a header, whose first column counts the markers. */
function withoutRemarks(rows: readonly Row[]): readonly Row[] {
  const first = rows.findIndex((row) => !row.cells[0].startsWith('#') || columnsByHeader(row) !== null);
  return first === -1 ? [] : rows.slice(first);
}

/** Lines that the delimiter is judged by. */
const judgedLines = 50;

/** The first of tab, semicolon, bar, comma and space that nearly every line has outside quotes. */
function delimiterOf(body: string): string {
  const lines = body
    .split('\n', judgedLines)
    .filter((line) => line.trim() !== '' && !/^#\s/.test(line))
    .map((line) => line.replace(/"[^"]*"/g, '""'));
  const sharedBy = (mark: string) => lines.filter((line) => line.includes(mark)).length / lines.length;
  return ['\t', ';', '|', ',', ' '].find((mark) => sharedBy(mark) >= 0.8) ?? ',';
}

function quote(cell: string | undefined): string {
  return cell === undefined || cell === '' ? 'an empty cell' : JSON.stringify(cell.slice(0, 40));
}
