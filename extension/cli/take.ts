/** shimwright take: recordings, from wherever a recorder left them, become takes of a machine. */
import { existsSync } from 'node:fs';
import { stat } from 'node:fs/promises';
import { basename, extname, join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import { heedingSignals } from './stopping.ts';
import type { Terminal } from './terminal.ts';
import type { Said } from '../common/new-take.ts';

export const take: Command = {
  name: 'take',
  usage: 'MACHINE FILE... [--name NAME | --each] [--quiet]',
  summary: 'copies recordings into a new take of a machine',
  flags: ['each'],
  values: ['name'],
  help: [
    'MACHINE is the machine’s folder or its machine.jsonc; each FILE is a recording or a marker file. They are copied into',
    'one new folder below takes/, with a take.jsonc that says when they were recorded, by the time of the oldest file. The',
    'files themselves stay where they are.',
    '',
    '  --name NAME   what the take is called; otherwise the day it was recorded, with a number where there is one already',
    '  --each        each file is a take of its own, called as the file is: a whole card at once',
    '  --quiet       results only',
    '',
    'shimwright take . close.wav far.wav',
  ].join('\n'),
  run: (given, terminal, signal) => heedingSignals(() => runTake(given, terminal, signal)),
};

async function runTake(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const [path, ...files] = given.paths;
  if (path === undefined)
    throw mistake(
      take,
      'no machine was named',
      'give its folder, then the files: shimwright take . take1.wav',
    );
  if (files.length === 0)
    throw mistake(take, 'no file was named', `add the recordings: shimwright take ${path} take1.wav`);
  const name = given.value('name');
  if (name !== undefined && given.has('each'))
    throw mistake(take, '--each calls each take as its file is, and --name was given too', 'leave one out');
  const { locate } = await import('../files/machine-folder.ts');
  const { root, shownRoot } = await locate(path);
  const makings = given.has('each')
    ? files.map((file) => ({ name: basename(file, extname(file)), files: [file] }))
    : [{ name, files }];
  // All or none, as far as can be told before.
  for (const { files } of makings) await recordedAt(files);
  const made: string[] = [];
  for (const making of makings) {
    signal.throwIfAborted();
    made.push(join(shownRoot, 'takes', await makeTake({ root, shownRoot, ...making })));
    terminal.print(`${made.at(-1)}: ${making.files.map((file) => basename(file)).join(', ')}`);
  }
  terminal.print(`Next: shimwright analyze ${made.join(' ')}`);
  return ok;
}

/** Where a take is made. */
export interface TakePlace {
  /** Real path of the machine's folder. */
  readonly root: string;
  readonly shownRoot: string;
  /** Absent: the day on which it was recorded. */
  readonly name: string | undefined;
  /** For take.jsonc. */
  readonly said?: Said;
}

/**
 * The folder appears whole or not at all.
 *
 * @returns the take's name
 * @throws InputProblem where a file is not there or is no plain file, or the name is taken or no name for a folder
 */
export async function makeTake(place: TakePlace & { readonly files: readonly string[] }): Promise<string> {
  return fill(place, place.files, await recordedAt(place.files));
}

/** A take into which a recording is yet to come. @returns its name @throws as makeTake */
export function startTake(place: TakePlace): Promise<string> {
  return fill(place, [], new Date());
}

async function fill(place: TakePlace, files: readonly string[], recorded: Date): Promise<string> {
  const { root, shownRoot, name, said } = place;
  const { freeName, isTakeName, takeText } = await import('../common/new-take.ts');
  const { localDate } = await import('../common/work-done.ts');
  const { asProblem } = await import('../files/fault.ts');
  const { newFolder } = await import('../files/new-folder.ts');
  const { realPathIfThere } = await import('../files/read.ts');
  const takes = join(root, 'takes');
  await realPathIfThere(root, takes, join(shownRoot, 'takes')); // a link out is refused
  const isTaken = (candidate: string) => Promise.resolve(existsSync(join(takes, candidate)));
  if (name !== undefined && !isTakeName(name))
    throw new InputProblem(
      `takes/${name}`,
      '',
      'is no name for a folder',
      'use letters, digits, spaces, "-", "_" and "."',
    );
  if (name !== undefined && (await isTaken(name)))
    throw new InputProblem(join(shownRoot, 'takes', name), '', 'is there already', 'choose another --name');
  const chosen = name ?? (await freeName(localDate(recorded), isTaken));
  const own = files.some((file) => basename(file) === 'take.jsonc');
  const texts: Readonly<Record<string, string>> = own ? {} : { 'take.jsonc': takeText(recorded, said) };
  await newFolder(join(takes, chosen), files, texts).catch((error: unknown) => {
    throw asProblem(error, join(shownRoot, 'takes', chosen), 'written');
  });
  return chosen;
}

/** When the oldest of the files was last written, which is when its recording ended; now, where a clock ran ahead. */
async function recordedAt(files: readonly string[]): Promise<Date> {
  const { asProblem } = await import('../files/fault.ts');
  const seen = new Set<string>();
  let oldestMs = Date.now();
  for (const file of files) {
    const own = basename(file);
    if (seen.has(own.toLowerCase()))
      throw new InputProblem(
        file,
        '',
        `is the second file called ${own}`,
        'rename one, or give each a take with --each',
      );
    seen.add(own.toLowerCase());
    const found = await stat(file).catch((error: unknown) => {
      throw asProblem(error, file, 'read');
    });
    if (!found.isFile())
      throw new InputProblem(file, '', 'is no plain file', 'name the recordings themselves');
    oldestMs = Math.min(oldestMs, found.mtimeMs);
  }
  return new Date(oldestMs);
}
