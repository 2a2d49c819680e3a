/** Reads report.json back. */
import { type ParseError, parse as parseJsonc, printParseErrorCode } from 'jsonc-parser';
import type { z } from 'zod';
import { InputProblem } from '../input/problem.ts';
import { type Report, reportSchema } from '../results/results.ts';

const again = 'analyse the take again to write it anew';

/**
 * Reads report.json back.
 *
 * @param file its name as the person knows it
 * @throws InputProblem where it is not JSON, not a report, or written by a later version than this one knows
 */
export function parseReport(file: string, text: string): Report {
  const value = readJson(file, text);
  const schema =
    typeof value === 'object' && value !== null ? (value as { schema?: unknown }).schema : undefined;
  if (typeof schema === 'number' && schema > 1) {
    const what = `it has schema ${schema}, and this version of Shimwright reads schema 1`;
    throw new InputProblem(
      file,
      'schema',
      what,
      'use a newer Shimwright, or analyse the take again with this one',
    );
  }
  const result = reportSchema.safeParse(value);
  if (result.success) return result.data;
  const [issue] = result.error.issues;
  throw new InputProblem(file, jsonPath(issue.path), describe(issue), again);
}

function readJson(file: string, text: string): unknown {
  const bare = text.replace(/^\uFEFF/, '');
  try {
    return JSON.parse(bare);
  } catch {
    // JSON.parse does not say where in a stable way; this reader does.
    const errors: ParseError[] = [];
    try {
      parseJsonc(bare, errors, { disallowComments: true });
    } catch (error) {
      // It calls itself for each bracket within another.
      if (!(error instanceof RangeError)) throw error;
      throw new InputProblem(file, '', 'it is not JSON (its brackets are nested too deeply)', again);
    }
    const offset = errors[0]?.offset ?? bare.length;
    const line = bare.slice(0, offset).split('\n').length;
    const reason = errors[0] === undefined ? 'unexpected text' : words(printParseErrorCode(errors[0].error));
    throw new InputProblem(file, `line ${line}`, `it is not JSON (${reason})`, again);
  }
}

/** "PropertyNameExpected" → "property name expected" */
function words(code: string): string {
  return code.replace(/(?<=.)([A-Z])/g, ' $1').toLowerCase();
}

function jsonPath(path: readonly PropertyKey[]): string {
  return path
    .map((key) => (typeof key === 'number' ? `[${key}]` : `.${String(key)}`))
    .join('')
    .replace(/^\./, '');
}

function describe(issue: z.core.$ZodIssue): string {
  return issue.message.replace(/^Invalid (input|option): /, '').replaceAll('\n', ' ');
}
