/** Which column of a table of markers is which: by its header's words, or by what its cells look like. */
import type { TableRow } from '../../input/table-row.ts';
import { parseTime, type Unit } from './times.ts';

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

// English first, then German, French, Spanish, Italian, Portuguese, Dutch and the Scandinavian languages, accents left out.
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
  'zeit',
  'anfang',
  'beginn',
  'zeitpunkt',
  'debut',
  'temps',
  'inicio',
  'tiempo',
  'inizio',
  'begin',
  'tijd',
  'tid',
  'abtastwert',
  'abtastwerte',
  'echantillon',
  'echantillons',
  'muestra',
  'muestras',
];
const endWords = [
  'end',
  'stop',
  'finish',
  'until',
  'to',
  'out',
  'ende',
  'bis',
  'fin',
  'fine',
  'fim',
  'einde',
  'slut',
];
const durationWords = [
  'duration',
  'dur',
  'length',
  'len',
  'span',
  'dauer',
  'lange',
  'duree',
  'duracion',
  'durata',
  'duracao',
  'duur',
];
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
  'bezeichnung',
  'beschriftung',
  'titel',
  'kanal',
  'nom',
  'titre',
  'canal',
  'nombre',
  'etiqueta',
  'nome',
  'titolo',
  'canale',
  'naam',
  'navn',
  'namn',
];

/** @returns null where the first row is no header that names a time */
export function columnsByHeader(first: TableRow): Columns | null {
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

/** "Start (ms)", "start_ms", "startMs" → start, ms; "Début" → debut */
function wordsOf(cell: string): string[] {
  return cell
    .normalize('NFD')
    .replace(/\p{M}/gu, '')
    .replace(/([a-z])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .split(/[^\p{L}\p{N}]+/u)
    .filter((word) => word !== '');
}

const sampleWords = ['abtastwert', 'abtastwerte', 'echantillon', 'echantillons', 'muestra', 'muestras'];

function unitOf(words: readonly string[]): Unit | null {
  const has = (...names: string[]) => names.some((name) => words.includes(name));
  if (has('ms', 'msec', 'milliseconds', 'millisecond', 'millisekunden', 'millisecondes')) return 'ms';
  if (has('sample', 'samples', 'smp', 'frame', 'frames', ...sampleWords)) return 'samples';
  return has(
    's',
    'sec',
    'secs',
    'second',
    'seconds',
    'sekunden',
    'sekunde',
    'secondes',
    'segundos',
    'secondi',
  )
    ? 's'
    : null;
}

/** Share of a column's cells that must be times for it to be one: single rows may be spoilt. */
const mostly = 0.5;
/** Share of a column's steps from row to row that must not fall: markers are exported in order, or channel by channel. */
const mostlyRising = 0.8;
/** Of fewer rows any two numbers rise. */
const leastToDoubt = 3;
/** More columns than this are no table of markers. */
const mostColumns = 16;

/** What the rows hold, column by column. */
interface Values {
  readonly index: number;
  /** NaN where a cell is no time. */
  readonly values: readonly number[];
  readonly isTime: boolean;
  /** Times go on from row to row; numbers of channels, levels and lengths do not. */
  readonly rises: boolean;
  /** Whole numbers that count the rows. */
  readonly counts: boolean;
}

function valuesOf(rows: readonly TableRow[]): Values[] {
  const width = Math.min(
    mostColumns,
    rows.reduce((max, row) => Math.max(max, row.cells.length), 0),
  );
  return Array.from({ length: width }, (_, index) => {
    const values = rows.map((row) => parseTime(row.cells[index] ?? '')?.value ?? NaN);
    const known = values.filter((value) => !Number.isNaN(value));
    const steps = known.slice(1).map((value, i) => value - known[i]);
    const rising = steps.filter((by) => by >= 0).length >= mostlyRising * steps.length;
    return {
      index,
      values,
      isTime: known.length > mostly * rows.length,
      rises: rising && (known.length < 2 || known[known.length - 1] > known[0]),
      // One row alone counts too: "1,drum,0.4".
      counts: known.every((value, i) => value === i + known[0]) && (known[0] === 0 || known[0] === 1),
    };
  });
}

/** Where a header's column counts the rows, or holds no times, and another holds some: that one is meant. */
export function believed(columns: Columns, rows: readonly TableRow[]): Columns {
  const all = valuesOf(rows);
  const own = all[columns.time];
  if (own === undefined || (own.isTime && !own.counts)) return columns;
  const taken = [columns.time, columns.end, columns.duration, columns.label];
  const others = all.filter(
    ({ index, isTime, rises, counts }) => isTime && rises && !counts && !taken.includes(index),
  );
  return others.length === 1 ? { ...columns, time: others[0].index } : columns;
}

export type ByContent =
  | { readonly columns: Columns }
  /** Columns, counted from 0, of which each may be the times. */
  | { readonly doubtful: readonly number[] };

/**
 * A column is believed for its values: times rise from row to row, and row numbers, which rise too, count.
 *
 * @param lengthS of the audio; Infinity where there is none
 * @param header of a table whose words say nothing of a time; its column may still name a unit
 * @returns null where no column holds times
 */
export function columnsByContent(
  rows: readonly TableRow[],
  lengthS: number,
  header: TableRow | null = null,
): ByContent | null {
  const all = valuesOf(rows);
  const times = all.filter(({ isTime }) => isTime);
  if (times.length === 0) return null;
  const rising = times.filter(({ rises, counts }) => rises && !counts);
  const within = rising.filter(({ values }) => !values.some((value) => value > lengthS));
  const candidates = within.length > 0 ? within : rising;
  const first = candidates[0] ?? times.find(({ counts }) => !counts) ?? times[0];
  const next = times.find(({ index }) => index === first.index + 1);
  const follows = next !== undefined && !next.values.some((end, i) => end < first.values[i]);
  // Two columns that both go on like times, and are no start and end: nobody can say which is meant.
  const others = candidates.filter((one) => one !== first && !(follows && one === next));
  if (others.length > 0 && rows.length >= leastToDoubt)
    return { doubtful: [first, ...others].map(({ index }) => index) };
  const time = first.index;
  const end = follows ? next.index : null;
  const rest = all.map(({ index }) => index).filter((column) => column !== time && column !== end);
  const hasText = (column: number) =>
    rows.some((row) => (row.cells[column] ?? '') !== '' && parseTime(row.cells[column]) === null);
  const label = rest.find((column) => column > time && hasText(column)) ?? rest.find(hasText) ?? null;
  const unit = header === null ? null : unitOf(wordsOf(header.cells[time] ?? ''));
  return {
    columns: {
      header: header !== null,
      time,
      end,
      duration: null,
      label: label ?? (end ?? time) + 1,
      unit,
    },
  };
}

/** Whether a first row is words above columns of numbers: a header in a language of its own. */
export function looksLikeHeader(first: TableRow, rows: readonly TableRow[]): boolean {
  if (rows.length === 0 || first.cells.some((cell) => parseTime(cell) !== null)) return false;
  return valuesOf(rows).some(({ index, isTime }) => isTime && (first.cells[index] ?? '') !== '');
}
