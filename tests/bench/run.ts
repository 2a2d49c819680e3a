/** Runs the benchmarks whose names hold one of the words given, or all, one after another, and prints their tables. */
import { readdirSync } from 'node:fs';
import { arch, cpus } from 'node:os';
import { printed, type Bench } from './bench.ts';

const ending = '.bench.ts';
/** Words with an equals sign are options of a benchmark. */
const words = process.argv.slice(2).filter((word) => !word.includes('='));
const names = readdirSync('tests/bench')
  .filter((file) => file.endsWith(ending))
  .map((file) => file.slice(0, -ending.length))
  .filter((name) => words.length === 0 || words.some((word) => name.includes(word)));

if (names.length === 0) throw new Error(`no benchmark's name holds ${words.join(' or ')}`);
console.log(`Node ${process.version}, ${arch()}, ${cpus().length} × ${cpus()[0].model}`);
for (const name of names) {
  // The bundler makes a branch for each file that fits this pattern.
  const { default: bench } = (await import(`./${name}.bench.ts`)) as { default: Bench };
  for (const table of await bench()) console.log(printed(table));
}
