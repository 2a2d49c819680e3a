#!/usr/bin/env node
/** The terminal command: finds the command that was asked for, runs it, and turns its outcome into an exit status. */
import { InputProblem } from '../../analysis/input/problem.ts';
import { commands } from './index.ts';
import { defect, mistake, ok, readArguments, unusable, type Command } from './command.ts';
import { nearest } from '../../analysis/input/nearest.ts';
import { StoppedBy, stopSignal } from './stopping.ts';
import { createTerminal, oneLine } from './terminal.ts';

declare const __VERSION__: string;

/** Set to anything, the trace of a defect is printed as well. */
const traceVariable = 'SHIMWRIGHT_TRACE';

async function main(args: readonly string[]): Promise<number> {
  const [name, ...rest] = args;
  if (name === undefined) throw mistake(null, `no command was given`, 'shimwright --help lists them');
  if (name === '--version') return say(__VERSION__);
  if (name === '--help' || name === '-h' || (name === 'help' && rest.length === 0)) return say(overview());
  const asked = name === 'help' ? rest[0] : name;
  const command = commands.find((each) => each.name === asked);
  if (command === undefined) throw unknown(asked);
  const given = readArguments(command, name === 'help' ? ['--help'] : rest);
  if (given.has('help')) return say((await import('./help.ts')).helpOf(command));

  const terminal = createTerminal(given.has('quiet'));
  try {
    return await command.run(given, terminal, stopSignal);
  } finally {
    terminal.progressDone();
  }
}

/** What a shell says of a process that a signal ended: 128 + the signal's number. */
const stoppedStatus = { SIGHUP: 129, SIGINT: 130, SIGTERM: 143 };

function overview(): string {
  const width = Math.max(...commands.map((command) => command.name.length)) + 2;
  return [
    'shimwright: which strike of a mechanical music machine is late, by how much, and which shim to move',
    '',
    ...commands.map((command) => `  ${command.name.padEnd(width)}${command.summary}`),
    '',
    'shimwright COMMAND --help says more. Each command takes --quiet (no progress, results only).',
    'Exit status: 0 done; 1 done, --check was asked and something is out of tolerance; 2 the input',
    'cannot be used, with one line that says which file, where in it, and how to mend it.',
    'Nothing is ever sent anywhere: shimwright uses no network.',
  ].join('\n');
}

function unknown(name: string): InputProblem {
  const near = nearest(
    name,
    commands.map((command: Command) => command.name),
  );
  return name.startsWith('-')
    ? mistake(null, `there is no option ${name} before a command`)
    : mistake(
        null,
        `there is no command "${name}"`,
        near === null ? 'shimwright --help lists them' : `did you mean shimwright ${near}?`,
      );
}

function say(text: string): number {
  process.stdout.write(`${text}\n`);
  return ok;
}

function statusOf(error: unknown): number {
  const complain = (line: string) => process.stderr.write(`${oneLine(line)}\n`);
  if (error instanceof StoppedBy) return stoppedStatus[error.signal];
  if (error instanceof InputProblem) {
    complain(error.message);
    return unusable;
  }
  const trace = process.env[traceVariable];
  if (trace !== undefined && trace !== '') console.error(error);
  else
    complain(
      `shimwright: a defect of this program, not of your files: ${String(error)}; ` +
        `set ${traceVariable}=1 and run it again to see where`,
    );
  return defect;
}

// A reader that has seen enough ("| head") closes the pipe; that is no fault.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error;
});

process.exitCode = await main(process.argv.slice(2)).catch(statusOf);
