/** Every stroke of a report as a table for other programs: RFC 4180, as spreadsheets read it. */
import Papa from 'papaparse';
import type { Report } from '../results/results.ts';

/** Digits that are kept: a hundredth of a microsecond, below what any clip can tell. */
const timeDigits = 8;
/** A tenth of a microsecond; no strike is told better. */
const msDigits = 4;

/**
 * A row for each hit, in the report's order. What is not known is empty. A word that a spreadsheet would take for a formula has
 * an apostrophe before it; numbers have none, so that they can be counted with.
 */
export function strokesCsv({ hits, tracks }: Report): string {
  const number = (value: number | null | undefined, digits: number) =>
    value === null || value === undefined ? null : Number(value.toFixed(digits));
  const rows = hits.map((hit) => ({
    timeS: number(hit.timeS, timeDigits),
    channel: hit.channel,
    turn: hit.turn,
    step: hit.step,
    sector: hit.sector,
    latenessMs: number(hit.latenessMs, msDigits),
    timeSdMs: hit.timeSdS === null ? null : number(1000 * hit.timeSdS, msDigits),
    levelDb: number(hit.levelDb, msDigits),
    state: hit.state,
    why: hit.why ?? null,
    file: hit.track === null ? null : (tracks.at(hit.track)?.file ?? null),
    track: hit.track === null ? null : (tracks.at(hit.track)?.track ?? null),
  }));
  const columns = [
    'timeS',
    'channel',
    'turn',
    'step',
    'sector',
    'latenessMs',
    'timeSdMs',
    'levelDb',
    'state',
    'why',
    'file',
    'track',
  ];
  return `${Papa.unparse(rows, { columns, newline: '\r\n', escapeFormulae: true })}\r\n`;
}
