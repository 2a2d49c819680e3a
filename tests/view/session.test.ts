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

const accept = (run: number) => ({ kind: 'accept', run, adjusters: ['lever-drum'] });
const changelog = () => readFileSync(join(root, 'CALIBRATION.md'), 'utf8');

test('what was chosen on a page that a newer report has replaced is not written, and the person is told', async () => {
  const posted: ToPage[] = [];
  const session = new ReportSession('one', services, (message) => posted.push(message), fail);
  await session.receive({ kind: 'ready' });
  await session.refresh();
  expect(posted.map(({ kind }) => kind)).toEqual(['report', 'report']);
  const before = changelog();
  await session.receive(accept(1));
  expect(posted.at(-1)).toEqual({
    kind: 'problem',
    message: 'A newer report came up while you chose: nothing was written. Look at it and choose again.',
  });
  expect(changelog()).toBe(before);
  await session.receive({ kind: 'pin', run: 1, request: 1, channel: 'drum', step: 0 });
  expect(posted).toHaveLength(3);
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
  slow = new Promise((resolve) => (read = resolve));
  const refreshed = session.refresh();
  await session.receive(accept(1));
  expect(changelog()).toContain('settings fitted after take one');
  read();
  await refreshed;
  expect(posted.map(({ kind }) => kind)).toEqual(['report', 'notice', 'report']);
});

function fail(error: unknown): void {
  throw error instanceof Error ? error : new Error(String(error));
}
