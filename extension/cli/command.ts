/**
 * The commands of the terminal: one file each, all of this shape, listed in index.ts. To add one, write a file that
 * exports a Command and add its line there.
 */
import { parseArgs } from 'node:util';
import { InputProblem } from '../../analysis/input/problem.ts';
import { nearest } from '../../analysis/input/nearest.ts';
import type { Terminal } from './terminal.ts';

export interface Command {
  readonly name: string;
  /** What follows the name: "TAKE [--json]". */
  readonly usage: string;
  /** One sentence for the list of commands. */
  readonly summary: string;
  /** What --help says below the usage; help.ts breaks its lines. An option begins with two spaces. */
  readonly help: string;
  /** Options without a value, beside --help and --quiet, which all have. */
  readonly flags: readonly string[];
  /** Options that are followed by a value: "--tempo 96" or "--tempo=96". */
  readonly values?: readonly string[];
  /** @returns the exit status */
  run(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number>;
}

/** What stood on the command line after the command's name. */
export interface Given {
  readonly paths: readonly string[];
  has(flag: string): boolean;
  /** What followed an option of `values`; the last one counts. */
  value(option: string): string | undefined;
}

export const ok = 0;
/** Done, and --check found something out of tolerance. */
export const outOfTolerance = 1;
/** Input that cannot be used. */
export const unusable = 2;
/** A defect of this program; what it says tells it from faults of the input. */
export const defect = 2;

/** @throws InputProblem where an option is unknown, has a value that it does not take, or lacks the one it takes */
export function readArguments(command: Command, args: readonly string[]): Given {
  const flags = [...command.flags, 'quiet', 'help'];
  const valued = command.values ?? [];
  const options = Object.fromEntries(valued.map((name) => [name, { type: 'string' as const }]));
  const { tokens } = parseArgs({
    args: [...args],
    options,
    strict: false,
    allowPositionals: true,
    tokens: true,
  });
  const paths: string[] = [];
  const set = new Set<string>();
  const values = new Map<string, string>();
  for (const token of tokens) {
    if (token.kind === 'positional') paths.push(token.value);
    if (token.kind !== 'option') continue;
    const name = token.rawName === '-h' ? 'help' : token.rawName === '-q' ? 'quiet' : token.name;
    if (valued.includes(name)) {
      if (token.value === undefined || token.value === '')
        throw mistake(command, `${token.rawName} needs a value`);
      values.set(name, token.value);
      continue;
    }
    if (!flags.includes(name)) throw unknownOption(command, token.rawName, [...flags, ...valued]);
    if (token.value !== undefined)
      throw mistake(command, `${token.rawName} takes no value, and "${token.value}" was given`);
    set.add(name);
  }
  return { paths, has: (flag) => set.has(flag), value: (option) => values.get(option) };
}

/** A fault in what was typed. */
export function mistake(command: Command | null, what: string, mend?: string): InputProblem {
  const name = command ? `shimwright ${command.name}` : 'shimwright';
  return new InputProblem(name, '', what, mend ?? `see ${name} --help`);
}

function unknownOption(command: Command, raw: string, flags: readonly string[]): InputProblem {
  const near = nearest(
    raw.replace(/^-+/, ''),
    flags.map((flag) => flag),
  );
  return mistake(
    command,
    `there is no option ${raw}`,
    near === null ? undefined : `did you mean --${near}? See shimwright ${command.name} --help`,
  );
}
