/**
 * The door for every JSON-with-comments file that a person writes: text in, checked value out. Faults become one
 * InputProblem whose place is `line:column` and the path, such as `12:15 adjusters[2].min`; where there are several,
 * the first in the file. Comments, trailing commas and a byte order mark are welcome.
 */
import {
  createScanner,
  findNodeAtLocation,
  getNodeValue,
  parse as parseValue,
  parseTree,
  printParseErrorCode,
  type Node,
  type ParseError,
} from 'jsonc-parser';
import type { z } from 'zod';
import { InputProblem } from './problem.ts';
import { faultsOf, type Path } from './schema-faults.ts';

export type { Path };

export type ProblemAt = (path: Path, what: string, mend: string) => InputProblem;

export interface Checked<T> {
  readonly value: T;
  /** A fault found later at a path of this file (or at the nearest part of it that is there). */
  readonly problem: ProblemAt;
}

/**
 * @param file how the person knows the file
 * @throws InputProblem where the text is no JSON with comments, names a key twice, or does not fit the schema
 */
export function readJsonc<S extends z.ZodType>(file: string, text: string, schema: S): Checked<z.output<S>> {
  const body = withoutMark(text);
  const root = parse(file, body);
  refuseTwins(file, body, root);
  const value: unknown = getNodeValue(root);
  const result = schema.safeParse(value);
  const problemAt = (node: Node, path: Path, what: string, mend: string) =>
    new InputProblem(file, `${lineAndColumn(body, node.offset)} ${pathText(path)}`.trim(), what, mend);
  if (result.success) {
    const problem: ProblemAt = (path, ...words) => problemAt(nodeAt(root, path), path, ...words);
    return { value: result.data, problem };
  }
  const faults = faultsOf(result.error.issues.slice(0, judgedFaults), value, schema).map((fault) => {
    const node = nodeAt(root, fault.path);
    return { ...fault, node: fault.atKey ? (node.parent?.children?.[0] ?? node) : node };
  });
  const first = faults.reduce((a, b) => (b.node.offset < a.node.offset ? b : a));
  throw problemAt(first.node, first.path, first.what, first.mend);
}

/** Longer than any description that people write by hand; the time for a fault goes with the length. */
const maxLength = 4 * 2 ** 20;

/** Ours are nested six deep. What reads a tree calls itself for each level, and runs out of room at some thousands. */
const maxDepth = 64;

/** Of so many the first in the file is told; a file with more is no description, and each takes a walk to find. */
const judgedFaults = 100;

/**
 * The value of a text, whatever stands in it, faults passed over: for a look at a file that is read properly later.
 *
 * @returns undefined where there is none, or the text is longer or deeper than readJsonc takes
 */
export function looseValue(text: string): unknown {
  const body = withoutMark(text);
  return body.length > maxLength || tooDeepAt(body) !== null ? undefined : parseValue(body);
}

/** The tree of a text whose form has been checked; offsets count from the start of `body`. */
export function parse(file: string, body: string): Node {
  if (body.length > maxLength) {
    throw new InputProblem(
      file,
      '',
      'the file is longer than 4 MiB',
      'keep only what describes the machine or take',
    );
  }
  const tooDeep = tooDeepAt(body);
  if (tooDeep !== null) {
    const what = `lists and objects stand more than ${maxDepth} deep in one another`;
    throw new InputProblem(
      file,
      lineAndColumn(body, tooDeep),
      what,
      'nothing here is nested like that: remove it',
    );
  }
  const errors: ParseError[] = [];
  const root = parseTree(body, errors, { allowTrailingComma: true });
  if (body.trim() === '')
    throw new InputProblem(file, '', 'the file is empty', 'write { } and what belongs in it');
  if (errors.length > 0) {
    const { error, offset } = errors[0];
    const [what, mend] = formFaults[printParseErrorCode(error)] ?? ['this is not JSON', 'correct it'];
    throw new InputProblem(file, lineAndColumn(body, offset), what, mend);
  }
  if (!root) {
    throw new InputProblem(file, '', 'there is nothing but comments', 'write { } and what belongs in it');
  }
  return root;
}

/** Where a bracket is opened within too many others; null where none is. */
function tooDeepAt(body: string): number | null {
  const scanner = createScanner(body, true);
  let depth = 0;
  for (;;) {
    scanner.scan();
    const at = scanner.getTokenOffset();
    if (at >= body.length) return null;
    if (body[at] === '{' || body[at] === '[') depth++;
    if (body[at] === '}' || body[at] === ']') depth--;
    if (depth > maxDepth) return at;
  }
}

/** The text without the byte order mark that some editors put before it. */
export function withoutMark(text: string): string {
  return text.startsWith('\uFEFF') ? text.slice(1) : text;
}

const formFaults: Record<string, readonly [what: string, mend: string]> = {
  InvalidSymbol: ['this word is not JSON', 'put text in double quotes'],
  InvalidNumberFormat: ['this number cannot be read', 'write it like 12 or 0.5'],
  PropertyNameExpected: [
    'a key is expected here',
    'write it in double quotes, or remove the comma before it',
  ],
  ValueExpected: ['a value is expected here', 'write one, or remove the comma before it'],
  ColonExpected: ['a ":" is missing', 'put one between the key and its value'],
  CommaExpected: ['a "," is missing', 'put one before this'],
  CloseBraceExpected: ['a "}" is missing', 'close the object'],
  CloseBracketExpected: ['a "]" is missing', 'close the list'],
  EndOfFileExpected: ['the file goes on after its end', 'remove this, or the bracket too many before it'],
  InvalidCommentToken: ['this is no comment', 'begin it with //'],
  UnexpectedEndOfComment: ['a comment is not closed', 'end it with */'],
  UnexpectedEndOfString: ['a text is not closed', 'end it with a double quote on the same line'],
  UnexpectedEndOfNumber: ['a number breaks off', 'write it like 12 or 0.5'],
  InvalidUnicode: ['this \\u sequence is broken', 'write \\u and four digits'],
  InvalidEscapeCharacter: ['this \\ sequence is not known', 'write \\\\ for a backslash'],
  InvalidCharacter: ['a character is not allowed here', 'remove it, or write it as \\t or \\n'],
};

/** JSON takes the last of two equal keys in silence, and a setting that is written twice is then half believed. */
function refuseTwins(file: string, body: string, node: Node): void {
  const seen = new Set<string>();
  for (const child of node.children ?? []) {
    if (child.type === 'property') {
      const key = child.children![0];
      const name = key.value as string;
      if (seen.has(name)) {
        const place = lineAndColumn(body, key.offset);
        throw new InputProblem(file, place, `"${name}" is there twice`, 'keep one of them');
      }
      seen.add(name);
    }
    refuseTwins(file, body, child);
  }
}

/** The node at a path, or the innermost one on the way to it that is there. */
function nodeAt(root: Node, path: Path): Node {
  for (let length = path.length; length > 0; length--) {
    const node = findNodeAtLocation(root, path.slice(0, length));
    if (node) return node;
  }
  return root;
}

/** Both from 1, in characters as editors count them. */
function lineAndColumn(body: string, offset: number): string {
  const lines = body.slice(0, offset).split(/\r\n|\r|\n/);
  return `${lines.length}:${lines[lines.length - 1].length + 1}`;
}

function pathText(path: Path): string {
  return path
    .map((part) => {
      if (typeof part === 'number') return `[${part}]`;
      return /^[A-Za-z_$][\w$-]*$/.test(part) ? `.${part}` : `[${JSON.stringify(part)}]`;
    })
    .join('')
    .replace(/^\./, '');
}
