/**
 * Workshops: machines whose files, takes, people or physics are not what a tidy model takes them for, through whole rounds of
 * recording, advice and change, judged against the truth. The simulator in tests/simulator/workshops/ shares no code with the
 * model; it writes the files that a builder has and asks the pipeline.
 *
 * `npm run bench -- workshops situations=wear,backlash machines=5 seed=1 threads=2 rounds=1` runs some of them, and
 * shows every round; `keep=FILE` keeps what is done, and goes on from there.
 */
import { appendFileSync, existsSync, readFileSync } from 'node:fs';
import { cpus } from 'node:os';
import { isMainThread } from 'node:worker_threads';
import type { Run } from '../simulator/workshops/loop.ts';
import { faultless, situations } from '../simulator/workshops/situations.ts';
import { kindTable, roundTable, situationTable, type Done } from '../simulator/workshops/tables.ts';
import { runAll, serveJobs, type Job } from '../simulator/workshops/threads.ts';
import { option, type Bench } from './bench.ts';

/** A run by its job, whatever the order of the situations. */
const nameOf = ({ situation, without, seed }: Job) =>
  `${without ? JSON.stringify(faultless(situations[situation])) : situations[situation].name} ${seed}`;

function runsIn(file: string): Map<string, Run> {
  if (!existsSync(file)) return new Map();
  const lines = readFileSync(file, 'utf8').split('\n').filter(Boolean);
  return new Map(lines.map((line) => JSON.parse(line) as [string, Run]));
}

const bench: Bench = async () => {
  if (!isMainThread) {
    await serveJobs();
    return [];
  }
  const words = option('situations', '').split(',').filter(Boolean);
  const first = Number(option('seed', '1'));
  const seeds = Array.from({ length: Number(option('machines', '20')) }, (_, i) => first + i);
  const chosen = situations
    .map((situation, index) => ({ situation, index, twin: JSON.stringify(faultless(situation)) }))
    .filter(({ situation: { name } }) => words.length === 0 || words.some((word) => name.includes(word)));
  const jobs: Job[] = [];
  const ask = (situation: number, without: boolean) => {
    const from = jobs.length;
    jobs.push(...seeds.map((seed) => ({ situation, without, seed })));
    return from;
  };
  const twins = new Map<string, number>();
  const asked = chosen.map(({ situation, index, twin }) => {
    if (!twins.has(twin)) twins.set(twin, ask(index, true));
    return { situation, runs: ask(index, false), without: twins.get(twin)! };
  });
  const started = performance.now();
  const kept = option('keep', '');
  const had = kept === '' ? new Map<string, Run>() : runsIn(kept);
  // One machine of every situation after another, so that what is kept of a run that was stopped is of all of them.
  const open = jobs.filter((job) => !had.has(nameOf(job))).sort((a, b) => a.seed - b.seed);
  let done = 0;
  await runAll(open, Number(option('threads', String(cpus().length))), (job, run) => {
    had.set(nameOf(job), run);
    if (kept !== '') appendFileSync(kept, `${JSON.stringify([nameOf(job), run])}\n`);
    if (process.stderr.isTTY) process.stderr.write(`\r${++done} of ${open.length} machines `);
  });
  const runs = jobs.map((job) => had.get(nameOf(job)));
  const part = (from: number) => runs.slice(from, from + seeds.length).filter((run) => run !== undefined);
  const judged = asked.map((one): Done => ({ ...one, runs: part(one.runs), without: part(one.without) }));
  console.log(`${jobs.length} machines in ${((performance.now() - started) / 1000).toFixed(0)} s`);
  return [
    ...(option('rounds', '') === '' ? [] : judged.map(roundTable)),
    situationTable(judged),
    kindTable(judged),
  ];
};
export default bench;
