/** A job that does not heed its Stop: it ends, and the others of its thread go on. */
import { Stopped } from '../../extension/work/stopped.ts';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, expect, test, vi } from 'vitest';
import { openThread } from '../../extension/work/call.ts';
import type { FromWorker, ToWorker, WorkerPort } from '../../extension/work/jobs.ts';

afterEach(() => vi.useRealTimers());

const order = { machine: {} as never, reports: [] };

/** Threads that do nothing by themselves: what each was sent, and a way to answer. */
function threads() {
  const all: {
    sent: ToWorker[];
    say: (message: FromWorker) => void;
    fall: (why: string) => void;
    ended: boolean;
  }[] = [];
  const start = (): Promise<WorkerPort> => {
    const own = { sent: [] as ToWorker[], say: (_: FromWorker) => {}, fall: (_: string) => {}, ended: false };
    all.push(own);
    return Promise.resolve({
      post: (message) => void own.sent.push(message),
      listen: (listener) => void (own.say = listener),
      onEnd: (listener) => void (own.fall = listener),
      end: () => {
        own.ended = true;
        own.fall('exit code 1');
      },
    });
  };
  return { all, thread: openThread(start) };
}

test('a stubborn job is given up after its patience; another job of the thread begins anew and is answered', async () => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
  const { all, thread } = threads();
  const stop = new AbortController();
  const stubborn = thread.call('advise', order, { signal: stop.signal });
  const other = thread.call('demo', {});
  const failed = expect(stubborn).rejects.toBeInstanceOf(Stopped);
  await vi.advanceTimersByTimeAsync(0);
  stop.abort();
  await vi.advanceTimersByTimeAsync(3900);
  expect(all).toHaveLength(1);
  expect(all[0].sent.at(-1)).toEqual({ kind: 'stop', id: 1 });
  await vi.advanceTimersByTimeAsync(200);
  await failed;
  expect(all.map(({ ended }) => ended)).toEqual([true, false]);
  expect(all[1].sent).toEqual([{ kind: 'job', id: 2, job: 'demo', order: {} }]);
  all[1].say({ kind: 'done', id: 2, outcome: [] });
  expect(await other).toEqual([]);
});

test('what is being written is let finish, but not for ever', async () => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
  const { all, thread } = threads();
  const stop = new AbortController();
  const writing = thread.call('demo', {}, { signal: stop.signal });
  const failed = expect(writing).rejects.toBeInstanceOf(Stopped);
  await vi.advanceTimersByTimeAsync(0);
  all[0].say({ kind: 'progress', id: 1, stage: 'reporting', fraction: 0 });
  stop.abort();
  await vi.advanceTimersByTimeAsync(15_000);
  expect(all[0].ended).toBe(false);
  await vi.advanceTimersByTimeAsync(5000);
  await failed;
  expect(all[0].ended).toBe(true);
});

test('a thread that falls by itself fails its jobs, and the next call starts another', async () => {
  const { all, thread } = threads();
  const job = thread.call('demo', {});
  await pause(0);
  all[0].fall('exit code 1');
  await expect(job).rejects.toThrow('the analysis thread ended: exit code 1');
  void thread.call('demo', {});
  await pause(0);
  expect(all).toHaveLength(2);
});
