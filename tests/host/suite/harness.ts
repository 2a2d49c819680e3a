/** The suite inside the editor: tests are collected, run in order, and their results left in the workspace as a file. */
import * as vscode from 'vscode';

interface Test {
  readonly name: string;
  readonly run: () => Promise<void>;
}

const tests: Test[] = [];

/** @param item which numbered item of the issue it is of */
export function test(item: string, name: string, run: () => Promise<void>): void {
  tests.push({ name: `${item} ${name}`, run });
}

/** A test that hangs fails after this long; the machine may be busy. */
const patienceMs = 240_000;

let resultsIn = () => vscode.workspace.workspaceFolders![0].uri;

/** For a workspace whose files the runner outside the editor does not see. */
export function leaveResultsIn(folder: () => vscode.Uri): void {
  resultsIn = folder;
}

/** The editor calls it with arguments of its own. */
export async function runTests(): Promise<void> {
  const root = resultsIn();
  const lines: string[] = [];
  let failed = 0;
  const only = tests;
  for (const { name, run } of only) {
    const startedMs = Date.now();
    const result = await Promise.race([run().then(() => null, explain), late()]);
    const took = `${((Date.now() - startedMs) / 1000).toFixed(1)} s`;
    lines.push(result === null ? `ok ${name} (${took})` : `not ok ${name} (${took})\n  ${result}`);
    if (result !== null) failed++;
    await leave(root, 'results.partial', lines.join('\n'));
  }
  await leave(
    root,
    'results.txt',
    [...lines, `passed ${tests.length - failed} failed ${failed}`, ''].join('\n'),
  );
}

async function leave(root: vscode.Uri, name: string, text: string): Promise<void> {
  await vscode.workspace.fs.writeFile(vscode.Uri.joinPath(root, name), new TextEncoder().encode(text));
}

function explain(error: unknown): string {
  const text = error instanceof Error ? (error.stack ?? error.message) : String(error);
  return text.replaceAll('\n', '\n  ');
}

function late(): Promise<string> {
  return new Promise((resolve) =>
    setTimeout(() => resolve(`no end after ${patienceMs / 1000} s`), patienceMs),
  );
}

export function equal(actual: unknown, expected: unknown, what: string): void {
  const [a, b] = [JSON.stringify(actual), JSON.stringify(expected)];
  if (a !== b) throw new Error(`${what}: expected ${b}, got ${a}`);
}

export function ok(value: unknown, what: string): asserts value {
  if (!value) throw new Error(what);
}

export function matches(text: string, pattern: RegExp, what: string): void {
  if (!pattern.test(text))
    throw new Error(`${what}: ${pattern.source} not in ${JSON.stringify(text.slice(0, 2000))}`);
}

/** Asks again until the answer is truthy. */
export async function until<T>(
  ask: () => Promise<T> | T,
  what: string,
  withinMs = 60_000,
): Promise<NonNullable<T>> {
  for (const endMs = Date.now() + withinMs; ;) {
    const answer = await ask();
    if (answer) return answer;
    if (Date.now() > endMs) throw new Error(`never came: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}
