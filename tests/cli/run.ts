/** The built command, run as a person would run it. */
import { spawn, spawnSync, type SpawnOptions } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join } from 'node:path';

export const cli = join(import.meta.dirname, '../../dist/cli.js');
if (!existsSync(cli)) throw new Error('tests/cli runs the built command: npm run build first');

export interface Outcome {
  readonly status: number | null;
  readonly signal: string | null;
  readonly out: string;
  readonly err: string;
}

/** Starts it; `ended` is what became of it. */
export function start(args: readonly string[], options: SpawnOptions = {}) {
  const child = spawn(process.execPath, [cli, ...args], { ...options, stdio: ['ignore', 'pipe', 'pipe'] });
  let out = '';
  let err = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => (out += text));
  child.stderr.setEncoding('utf8').on('data', (text: string) => (err += text));
  const ended = new Promise<Outcome>((resolve) =>
    child.once('close', (status, signal) => resolve({ status, signal, out, err })),
  );
  return { child, ended };
}

export function run(args: readonly string[], options: SpawnOptions = {}): Promise<Outcome> {
  return start(args, options).ended;
}

/** The same on a terminal of its own, through util-linux's script; null where that is not installed. Both outputs come together. */
export function runOnTerminal(args: readonly string[], env: NodeJS.ProcessEnv = {}): string | null {
  const quoted = [process.execPath, cli, ...args].map((arg) => `'${arg.replaceAll("'", `'\\''`)}'`).join(' ');
  const { error, stdout, stderr } = spawnSync('script', ['-qec', quoted, '/dev/null'], {
    encoding: 'utf8',
    env: { ...process.env, TERM: 'xterm', ...env },
  });
  // "script: failed to create pseudo-terminal", where a container has none.
  return error || stderr.includes('pseudo-terminal') ? null : stdout;
}
