/**
 * Workshops: machines whose files, takes, people or physics are not what a tidy model takes them for, through whole rounds of
 * recording, advice and change, judged against the truth. The simulator in tests/simulator/workshops/ shares no code with the
 * model; it writes the files that a builder has and asks the pipeline.
 *
 * `npm run bench -- workshops situations=wear,backlash machines=5 seed=1 threads=2 rounds=1` runs some of them, and
 * shows every round.
 */
import { cpus } from 'node:os';
import { isMainThread } from 'node:worker_threads';
import { faultless, situations } from '../simulator/workshops/situations.ts';
import { kindTable, roundTable, situationTable, type Done } from '../simulator/workshops/tables.ts';
import { runAll, serveJobs, type Job } from '../simulator/workshops/threads.ts';
import { option, type Bench } from './bench.ts';

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
  const runs = await runAll(jobs, Number(option('threads', String(cpus().length))), (done) => {
    if (process.stderr.isTTY) process.stderr.write(`\r${done} of ${jobs.length} machines `);
  });
  const part = (from: number) => runs.slice(from, from + seeds.length);
  const done = asked.map((one): Done => ({ ...one, runs: part(one.runs), without: part(one.without) }));
  console.log(`${jobs.length} machines in ${((performance.now() - started) / 1000).toFixed(0)} s`);
  return [
    ...(option('rounds', '') === '' ? [] : done.map(roundTable)),
    situationTable(done),
    kindTable(done),
  ];
};
export default bench;
