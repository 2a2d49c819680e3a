/** shimwright new: a first machine.jsonc and pattern.csv, from a few answers. */
import { existsSync } from 'node:fs';
import { mkdir, realpath } from 'node:fs/promises';
import { join } from 'node:path';
import { createInterface } from 'node:readline/promises';
import { InputProblem } from '../../analysis/input/problem.ts';
import { channelsIn, newMachine, repeated, type MachineAnswers } from '../common/new-machine.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import { heedingSignals } from './stopping.ts';
import type { Terminal } from './terminal.ts';

interface Question {
  readonly option: string;
  readonly words: string;
  /** Taken where the line is left empty; null where there is no usual answer. */
  readonly usual: string | null;
}

const questions = [
  { option: 'name', words: 'What is the machine called?', usual: null },
  { option: 'steps', words: 'Pin positions in one turn of the barrel', usual: '240' },
  { option: 'steps-per-beat', words: 'Pin positions in one beat', usual: '4' },
  { option: 'diameter', words: 'Diameter of the pin circle, mm', usual: '400' },
  { option: 'sectors', words: 'How many separately bolted sectors? 1 if it is one piece', usual: '1' },
  {
    option: 'channels',
    words: 'Its strikers, with commas between; first the one against which the others are timed',
    usual: null,
  },
] as const satisfies readonly Question[];

type Option = (typeof questions)[number]['option'];

export const create: Command = {
  name: 'new',
  usage: 'DIR [--name NAME] [--channels A,B,C] [OPTIONS]',
  summary: 'makes a new machine: a commented machine.jsonc and a pattern to correct',
  flags: [],
  values: questions.map(({ option }) => option),
  help: [
    'DIR is a folder without a machine; it is made where it is not there. On a terminal what is not given is asked.',
    '',
    ...questions.map(
      ({ option, words, usual }) =>
        `  --${option.padEnd(16)} ${words}${usual === null ? '' : ` (without it ${usual})`}`,
    ),
    '',
    'shimwright new my-machine --name "Mill Lane barrel" --channels block,drum,bell --sectors 6',
  ].join('\n'),
  run: (given, terminal, signal) => heedingSignals(() => runNew(given, terminal, signal)),
};

async function runNew(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const [path, ...more] = given.paths;
  if (path === undefined) throw mistake(create, 'no folder was named', 'give one: shimwright new my-machine');
  if (more.length > 0) throw mistake(create, `one folder at a time, and ${more.length + 1} were named`);
  for (const name of ['machine.jsonc', 'pattern.csv'])
    if (existsSync(join(path, name)))
      throw new InputProblem(
        path,
        '',
        `holds a ${name} already`,
        'name another folder; nothing of yours is overwritten',
      );
  const answers = answersIn(await askMissing(given, signal));
  const { readMachine } = await import('../../analysis/machine/read.ts');
  const { machine, pattern } = newMachine(answers);
  const encoder = new TextEncoder();
  const bytes = { machine: encoder.encode(machine), pattern: encoder.encode(pattern) };
  await readMachine('machine.jsonc', machine, () => Promise.resolve(bytes.pattern)).catch(
    (error: unknown) => {
      // Only the names are a person's own words.
      if (error instanceof InputProblem)
        throw new InputProblem('shimwright new', '--channels', error.what, error.mend);
      throw error;
    },
  );
  const { asProblem } = await import('../files/fault.ts');
  const { writeWhole } = await import('../files/write.ts');
  try {
    await mkdir(path, { recursive: true });
    const root = await realpath(path);
    const files = [
      { path: join(root, 'pattern.csv'), bytes: bytes.pattern, before: null },
      { path: join(root, 'machine.jsonc'), bytes: bytes.machine, before: null },
    ];
    await writeWhole(root, files, signal);
  } catch (error) {
    throw asProblem(error, path, 'written');
  }
  terminal.print(
    [
      `${join(path, 'machine.jsonc')}: correct what one unit of each adjuster does ("perUnit") and what is fitted now.`,
      `${join(path, 'pattern.csv')}: enter the pins; the reference has one on every beat until you do.`,
      `Next: shimwright take ${path} RECORDING`,
    ].join('\n'),
  );
  return ok;
}

type Answered = Readonly<Record<Option, string>>;

/** @throws InputProblem where an answer is missing and nobody can be asked */
async function askMissing(given: Given, signal: AbortSignal): Promise<Answered> {
  const asked = process.stdin.isTTY && process.stderr.isTTY;
  const lines = asked ? createInterface({ input: process.stdin, output: process.stderr }) : null;
  try {
    const answers: Partial<Record<Option, string>> = {};
    for (const { option, words, usual } of questions) {
      const typed =
        given.value(option) ??
        (await lines?.question(`${words}${usual === null ? '' : ` [${usual}]`}: `, { signal }))?.trim() ??
        '';
      const answer = typed === '' ? usual : typed;
      if (answer === null) throw mistake(create, `--${option} is missing`, `see shimwright new --help`);
      answers[option] = answer;
    }
    return answers as Answered;
  } finally {
    lines?.close();
  }
}

function answersIn(answered: Answered): MachineAnswers {
  const whole = (option: Option, least: number, most: number) => {
    const text = answered[option].trim();
    const value = Number(text);
    if (/^\d{1,6}$/.test(text) && value >= least && value <= most) return value;
    throw new InputProblem(
      'shimwright new',
      `--${option}`,
      `"${text}" does not fit`,
      `give a whole number from ${least} to ${most}`,
    );
  };
  const channels = channelsIn(answered.channels);
  const twice = repeated(channels);
  if (channels.length === 0 || twice !== null)
    throw new InputProblem(
      'shimwright new',
      '--channels',
      twice === null ? 'names no striker' : `"${twice}" is there twice`,
      'name each once, with commas between',
    );
  const steps = whole('steps', 2, 100_000);
  return {
    name: answered.name.trim(),
    steps,
    stepsPerBeat: whole('steps-per-beat', 1, steps),
    diameterMm: whole('diameter', 1, 100_000),
    sectors: whole('sectors', 1, steps),
    channels,
  };
}
