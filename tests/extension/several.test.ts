// Several takes at once: whose turn comes when, and the same bytes however many threads, of files handed over too.
import { Stopped } from '../../extension/work/stopped.ts';
import { expect, test } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import { reportsBefore } from '../../analysis/take/order.ts';
import type { EarlierReport, Report } from '../../analysis/results/results.ts';
import { openThread, type AnalysisThread } from '../../extension/work/call.ts';
import type { FromWorker, ToWorker, WorkerPort } from '../../extension/work/jobs.ts';
import { analyseFiles } from '../../extension/work/on-values.ts';
import { serve, type Workers } from '../../extension/work/serve.ts';
import { analyseSeveral, type TakeWork } from '../../extension/work/several.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { machineText, markers, patternText } from '../cli/small-machine.ts';

const bytes = (text: string) => new TextEncoder().encode(text);

const solve = nodeSolver();

/** The two ends of a worker in one thread: what passes between them is copied, and comes later. */
function threadHere(): AnalysisThread {
  let toHost: (message: FromWorker) => void;
  let toWorker: (message: ToWorker) => void;
  serve(
    {
      post: (message) => void setImmediate(() => toHost(structuredClone(message))),
      listen: (listener) => (toWorker = listener),
    },
    () => ({ analyseFiles: analyseFiles(solve, () => Promise.reject(new Error())) }) as Workers,
  );
  const port: WorkerPort = {
    post: (message) => void setImmediate(() => toWorker(structuredClone(message))),
    listen: (listener) => (toHost = listener),
    onEnd: () => undefined,
    end: () => undefined,
  };
  port.post({ kind: 'start', wasm: null });
  return openThread(() => Promise.resolve(port));
}

const takes = ['april', 'june', 'may'].map((name, i) => ({
  name,
  files: [
    { name: 'hits.csv', bytes: bytes(markers({ drum: 3 - 0.6 * i, sectorB: 1.3 }, i + 1)) },
    { name: 'take.jsonc', bytes: bytes(`{ "settings": { "lever-drum": ${5 - i} } }`) },
  ],
}));

/** Every take's report.json, with so many threads. */
async function texts(threads: number): Promise<string[]> {
  const machine = await readMachine('machine.jsonc', machineText, () => Promise.resolve(bytes(patternText)));
  const written = new Map<string, EarlierReport>();
  const known = () => takes.map(({ name }) => ({ name, report: written.get(name) ?? null }));
  const work = takes.map(({ name, files }): TakeWork<string> => async (thread, turn) => {
    const order = { machine, name, files, earlier: null, voices: [], templates: {}, plugins: [] };
    const history = () => turn().then(() => reportsBefore(known(), name));
    const { report, json } = await thread.call('analyseFiles', order, { turn: history });
    written.set(name, report);
    return json;
  });
  const results = await analyseSeveral(work, Array.from({ length: threads }, threadHere));
  return results.map((result) => {
    if (result.status === 'rejected') throw result.reason;
    return result.value;
  });
}

test('files handed over: no report differs by a byte with one, two or three threads', async () => {
  const first = await texts(1);
  // The later ones rest on the earlier ones, or this would compare nothing.
  const { outcome } = JSON.parse(first[1]) as Report;
  expect(outcome?.since).toBe('april');
  expect(await texts(2)).toEqual(first);
  expect(await texts(3)).toEqual(first);
});

test('a take’s turn comes when all before it have ended, although the one just before failed long ago', async () => {
  const events: string[] = [];
  let finishFirst = () => {};
  const slow = new Promise<void>((resolve) => (finishFirst = resolve));
  const results = await analyseSeveral<string>(
    [
      async () => {
        await slow;
        events.push('first ended');
        return 'first';
      },
      () => {
        events.push('second failed');
        // The third has had every chance to go on too early.
        setImmediate(finishFirst);
        return Promise.reject(new Error('unreadable'));
      },
      async (_, turn) => {
        await turn();
        events.push('third’s turn');
        return 'third';
      },
    ],
    [threadHere(), threadHere(), threadHere()],
  );
  expect(events).toEqual(['second failed', 'first ended', 'third’s turn']);
  expect(results.map(({ status }) => status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
});

test('a stop ends them all: the one whose turn it is, those that wait, and those not begun', async () => {
  const machine = await readMachine('machine.jsonc', machineText, () => Promise.resolve(bytes(patternText)));
  const stop = new AbortController();
  const work = takes.map(({ name, files }): TakeWork<unknown> => (thread, turn) => {
    const order = { machine, name, files, earlier: null, voices: [], templates: {}, plugins: [] };
    const stopped = () => turn().then(() => (stop.abort(), []));
    return thread.call('analyseFiles', order, { signal: stop.signal, turn: stopped });
  });
  const results = await analyseSeveral(work, [threadHere(), threadHere()]);
  expect(results.map((result) => result.status === 'rejected' && (result.reason as unknown))).toEqual(
    takes.map(() => new Stopped()),
  );
});

test('where the history cannot be fetched the job fails, and does not wait for ever', async () => {
  const machine = await readMachine('machine.jsonc', machineText, () => Promise.resolve(bytes(patternText)));
  const order = { machine, ...takes[0], earlier: null, voices: [], templates: {}, plugins: [] };
  const turn = () => Promise.reject(new Error('the folder is gone'));
  await expect(threadHere().call('analyseFiles', order, { turn })).rejects.toThrow('the folder is gone');
});
