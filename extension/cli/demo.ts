/** shimwright demo: the demo machine, to try everything on. */
import { mkdir, readdir, realpath } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { mistake, ok, type Command, type Given } from './command.ts';
import { heedingSignals } from './stopping.ts';
import type { Terminal } from './terminal.ts';

export const demo: Command = {
  name: 'demo',
  usage: 'DIR',
  summary: 'writes the demo machine with its takes into a new folder',
  flags: [],
  help: [
    'DIR is a folder that is not there yet, or an empty one. The demo machine is invented: its takes are played',
    'by a script from faults that are known, over three rounds of adjustment.',
  ].join('\n'),
  run: (given, terminal, signal) => heedingSignals(() => runDemo(given, terminal, signal)),
};

async function runDemo(given: Given, terminal: Terminal, signal: AbortSignal): Promise<number> {
  const [path, ...more] = given.paths;
  if (path === undefined)
    throw mistake(demo, 'no folder was named', 'give one: shimwright demo demo-machine');
  if (more.length > 0) throw mistake(demo, `one folder at a time, and ${more.length + 1} were named`);
  const { asProblem } = await import('../files/fault.ts');
  const { writeWhole } = await import('../files/write.ts');
  try {
    await mkdir(path, { recursive: true });
    if ((await readdir(path)).length > 0)
      throw new InputProblem(path, '', 'is not empty', 'name a new folder; nothing of yours is overwritten');
    const { demoFiles } = await import('../../samples/make.ts');
    const root = await realpath(path);
    const put = async (name: string, bytes: Uint8Array) => {
      const file = join(root, name);
      await mkdir(dirname(file), { recursive: true });
      await writeWhole(root, [{ path: file, bytes, before: null }], signal);
    };
    let description: Uint8Array | undefined;
    for await (const { path: name, bytes } of demoFiles()) {
      signal.throwIfAborted();
      if (name === 'machine.jsonc') description = bytes;
      else await put(name, bytes);
    }
    // Last: a folder whose writing was cut short is no machine's.
    if (description !== undefined) await put('machine.jsonc', description);
  } catch (error) {
    throw asProblem(error, path, 'written');
  }
  terminal.print(`The demo machine is in ${path}. Next: shimwright advise ${path}`);
  return ok;
}
