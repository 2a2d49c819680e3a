/** The editor's part of an open page, without a page: which report a message is about. */
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { ReportSession } from '../../extension/host/report-session.ts';
import type { ReportServices } from '../../extension/host/report-services.ts';
import type { ToPage } from '../../extension/protocol/messages.ts';
import { makeMachine, markers } from '../cli/small-machine.ts';
import { diskServices } from './disk-services.ts';

let root: string;
let services: ReportServices;

beforeAll(async () => {
  root = makeMachine({ 'takes/one/heard.csv': markers({ drum: 3.2, sectorB: 1 }) });
  services = diskServices(root);
  await services.analyse('one', () => undefined, new AbortController().signal);
});
afterAll(() => rmSync(root, { recursive: true, force: true }));

const accept = (run: number) => ({ kind: 'accept', run, adjusters: ['lever-drum'], others: [] });
const changelog = () => readFileSync(join(root, 'CALIBRATION.md'), 'utf8');

test('what was chosen on a page that a newer report has replaced is not written, and the person is told', async () => {
  const posted: ToPage[] = [];
  const session = new ReportSession('one', services, (message) => posted.push(message), fail);
  await session.receive({ kind: 'ready' });
  await session.refresh();
  const adviceOf = (run: number) => posted.some((each) => each.kind === 'advice' && each.run === run);
  await expect.poll(() => adviceOf(2), { timeout: 30_000 }).toBe(true);
  expect(posted.map(({ kind }) => kind).filter((kind) => kind !== 'advice')).toEqual(['report', 'report']);
  const before = changelog();
  await session.receive(accept(1));
  expect(posted.at(-1)).toEqual({
    kind: 'problem',
    message: 'A newer report came up while you chose: nothing was written. Look at it and choose again.',
  });
  expect(changelog()).toBe(before);
  const count = posted.length;
  await session.receive({ kind: 'pin', run: 1, request: 1, channel: 'drum', step: 0 });
  expect(posted).toHaveLength(count);
});

test('while a newer report is only being read, what the page shows still counts', async () => {
  const posted: ToPage[] = [];
  let read = () => {};
  let slow = Promise.resolve();
  const readReport = async (take: string) => {
    await slow;
    return services.readReport(take);
  };
  const session = new ReportSession(
    'one',
    { ...services, readReport },
    (message) => posted.push(message),
    fail,
  );
  await session.receive({ kind: 'ready' });
  await expect.poll(() => posted.at(-1)?.kind, { timeout: 30_000 }).toBe('advice');
  slow = new Promise((resolve) => (read = resolve));
  const refreshed = session.refresh();
  await session.receive(accept(1));
  expect(changelog()).toContain('settings fitted after take one');
  read();
  await refreshed;
  expect(posted.map(({ kind }) => kind).slice(0, 4)).toEqual(['report', 'advice', 'noted', 'report']);
});

test('only the newest take’s page notes work, against what is to change now; an older one leads there', async () => {
  const fresh = makeMachine({
    'takes/april/heard.csv': markers({ drum: 3.2, sectorB: 1 }),
    'takes/april/take.jsonc': '{ "recorded": "2026-04-02" }',
    // Nothing was done in between: lateness that moved as advised would be told as work not noted, and left alone.
    'takes/may/heard.csv': markers({ drum: 3.1, sectorB: 1 }, 2),
    'takes/may/take.jsonc': '{ "recorded": "2026-05-02" }',
  });
  try {
    const own = diskServices(fresh);
    for (const take of ['april', 'may'])
      await own.analyse(take, () => undefined, new AbortController().signal);
    const log = () => readFileSync(join(fresh, 'CALIBRATION.md'), 'utf8');
    const before = log();
    const posted: ToPage[] = [];
    const opened: string[] = [];
    const showNewest = () => Promise.resolve(void opened.push('newest'));
    const older = new ReportSession('april', { ...own, showNewest }, (each) => posted.push(each), fail);
    await older.receive({ kind: 'ready' });
    expect(posted).toMatchObject([{ kind: 'report', newest: 'may' }]);
    await older.receive({ ...accept(1) });
    await older.receive({ kind: 'fitted' });
    expect(posted.slice(1)).toMatchObject(
      [1, 2].map(() => ({ kind: 'problem', message: expect.stringContaining('may is newer') as string })),
    );
    await older.receive({ kind: 'show-newest' });
    expect([opened, log()]).toEqual([['newest'], before]);

    const onNewest: ToPage[] = [];
    const newest = new ReportSession('may', own, (each) => onNewest.push(each), fail);
    await newest.receive({ kind: 'ready' });
    await expect.poll(() => onNewest.at(-1)?.kind, { timeout: 30_000 }).toBe('advice');
    const advice = onNewest.at(-1) as Extract<ToPage, { kind: 'advice' }>;
    const adjusters = advice.advice!.settings.map(({ adjuster }) => adjuster);
    // Ticks of a sitting are one entry, in which nothing is said not to have been followed.
    await newest.receive({ kind: 'accept', run: 1, adjusters, others: [] });
    expect(log().split('settings fitted')).toHaveLength(2);
    expect(log()).toContain('settings fitted after take may');
    expect(log()).not.toContain('not followed');
  } finally {
    rmSync(fresh, { recursive: true, force: true });
  }
});

function fail(error: unknown): void {
  throw error instanceof Error ? error : new Error(String(error));
}
