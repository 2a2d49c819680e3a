/** corrections.csv, read, and as the page changes it: rows put in and taken back, everything else of the file left as it is. */
import Papa from 'papaparse';
import {
  correctionActions,
  type Correction,
  type UnreadCorrection,
} from '../../analysis/hits/corrections.ts';
import { oneLine } from '../../analysis/report/markdown-text.ts';

const header = 'time,channel,action,note';

/** Two rows mean the same hit at the same instant when their times agree to the digits written. */
const digits = 6;

/** A row of the file, with the 1-based line it begins on. */
interface Placed extends Correction {
  readonly line: number;
  readonly lines: number;
}

/** The rows that can be read; others are a person's own remarks, or unreadCorrections says why they are not. */
export function readCorrections(text: string | null): Correction[] {
  return rowsOf(text).placed.map(({ timeS, channel, action, note }) => ({ timeS, channel, action, note }));
}

/** Rows that were meant for corrections and cannot be read as such: a time and no known action, or an action and no time. */
export function unreadCorrections(text: string | null): UnreadCorrection[] {
  return rowsOf(text).unread;
}

/** @returns the file's text with one row more, in the file's own line ends */
export function addCorrection(before: string | null, row: Correction): string {
  const end = before?.includes('\r\n') ? '\r\n' : '\n';
  const columns = columnsOf(before);
  const cells = Array.from({ length: Math.max(...Object.values(columns.places)) + 1 }, () => '');
  cells[columns.places.time] = row.timeS.toFixed(digits);
  cells[columns.places.channel] = plain(row.channel);
  cells[columns.places.action] = row.action;
  cells[columns.places.note] = plain(row.note);
  const line = Papa.unparse([cells], { delimiter: columns.delimiter, newline: end });
  if (before === null || before.trim() === '') return `${header}${end}${line}${end}`;
  return `${before}${before.endsWith('\n') ? '' : end}${line}${end}`;
}

/** @returns the file's text without the row; null where the row is not there (someone else has changed the file) */
export function takeBackCorrection(before: string | null, place: number, row: Correction): string | null {
  const rows = rowsOf(before).placed;
  const same = (other: Correction | undefined) =>
    other !== undefined &&
    other.timeS.toFixed(digits) === row.timeS.toFixed(digits) &&
    other.channel === row.channel &&
    other.action === row.action;
  const found = same(rows[place]) ? rows[place] : rows.find(same);
  if (before === null || found === undefined) return null;
  const lines = before.split(/(?<=\n)/);
  lines.splice(found.line - 1, found.lines);
  return lines.join('');
}

function columnsOf(text: string | null) {
  const first =
    text
      ?.replace(/^\uFEFF/, '')
      .split(/\r?\n/)
      .find((line) => line.trim() !== '' && !line.startsWith('#')) ?? header;
  const delimiter = [';', '\t', ','].find((mark) => first.includes(mark)) ?? ',';
  const names = first.split(delimiter).map((cell) => cell.trim().replace(/^"|"$/g, '').toLowerCase());
  const place = (name: string, otherwise: number) => {
    const found = names.indexOf(name);
    return found < 0 ? otherwise : found;
  };
  return {
    delimiter,
    places: {
      time: place('time', 0),
      channel: place('channel', 1),
      action: place('action', 2),
      note: place('note', 3),
    },
  };
}

function rowsOf(text: string | null): { placed: Placed[]; unread: UnreadCorrection[] } {
  const placed: Placed[] = [];
  const unread: UnreadCorrection[] = [];
  if (text === null) return { placed, unread };
  const { delimiter, places } = columnsOf(text);
  let line = 1;
  let before = 0;
  const bare = text.replace(/^\uFEFF/, '');
  Papa.parse<string[]>(bare, {
    delimiter,
    newline: bare.includes('\r\n') ? '\r\n' : '\n',
    step: ({ data, meta }) => {
      const lines = bare.slice(before, meta.cursor).split('\n').length - 1;
      before = meta.cursor;
      const row = data[0].startsWith('#') ? null : meaningOf(data, places);
      if (row !== null && 'fault' in row) unread.push({ ...row, line });
      else if (row !== null) placed.push({ ...row, line, lines: Math.max(1, lines) });
      line += Math.max(1, lines);
    },
  });
  return { placed, unread };
}

/** What a row's cells say; null for a header or a remark, which have no action, or neither time nor known action. */
function meaningOf(
  cells: readonly string[],
  places: ReturnType<typeof columnsOf>['places'],
): Correction | Omit<UnreadCorrection, 'line'> | null {
  const cell = (place: number) => (cells[place] ?? '').trim();
  const word = cell(places.action);
  const action = correctionActions.find((name) => name === word.toLowerCase());
  const timeS = Number(cell(places.time).replace(',', '.') || NaN);
  const timed = timeS >= 0;
  if (action === undefined) return timed && word !== '' ? { fault: 'action', word } : null;
  if (!timed) return { fault: 'time', word: cell(places.time) };
  const note = (cells[places.note] ?? '').replace(/^'(?=[=+\-@\t])/, '').slice(0, 1000);
  return { timeS, channel: cell(places.channel), action, note };
}

/**
 * A cell that no spreadsheet takes for a formula: one that begins like one gets an apostrophe before it (the
 * trade's common practice; OWASP "CSV Injection", from memory).
 */
function plain(text: string): string {
  const line = oneLine(text);
  return /^[=+\-@\t]/.test(line) ? `'${line}` : line;
}
