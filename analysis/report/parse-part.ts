/** report.json without the many thousand rows that only a take's own page needs. */
import { InputProblem } from '../input/problem.ts';
import type { EarlierReport, Report, ReportHead } from '../results/results.ts';
import { parseReport } from './parse.ts';

/**
 * What later takes need to know of an earlier one, in a small part of the time that reading the whole takes
 * (`npm run bench folder`).
 *
 * @param file its name as the person knows it
 * @throws InputProblem as parseReport does, but does not look into the rows left out
 */
export function parseEarlier(file: string, text: string): EarlierReport {
  return parsed(file, text, ['hits']);
}

/** How a take stands, for a list of many; the same otherwise. */
export function parseHead(file: string, text: string): ReportHead {
  return parsed(file, text, ['hits', 'pins', 'sections']);
}

type Rows = 'hits' | 'pins' | 'sections';

function parsed<K extends Rows>(file: string, text: string, without: readonly K[]): Omit<Report, K> {
  const report = fewRows(file, text, without);
  for (const key of without) Reflect.deleteProperty(report, key);
  return report;
}

function fewRows(file: string, text: string, without: readonly Rows[]): Report {
  try {
    return parseReport(file, without.reduce(withoutRows, text));
  } catch (error) {
    // The place it names is to be the file's own.
    if (error instanceof InputProblem) return parseReport(file, text);
    throw error;
  }
}

/** As stringifyReport lays it out: one row a line, so that no line within begins as the end does. */
function withoutRows(text: string, key: string): string {
  const start = text.indexOf(`\n  "${key}": [\n`);
  const end = start < 0 ? -1 : text.indexOf('\n  ]', start);
  return end < 0 ? text : `${text.slice(0, start)}\n  "${key}": []${text.slice(end + '\n  ]'.length)}`;
}
