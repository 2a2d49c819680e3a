// A page whose take goes, or whose report is spoilt, while it is open: it says so, and writes nothing.
import { existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { ReportSession } from '../../extension/host/report-session.ts';
import type { ToPage } from '../../extension/protocol/messages.ts';
import { makeMachine, markers } from '../cli/small-machine.ts';
import { diskServices } from './disk-services.ts';

let root: string;
let services: ReturnType<typeof diskServices>;
const inTake = (name: string) => join(root, 'takes/one', name);
beforeAll(async () => {
  root = makeMachine({ 'takes/one/heard.csv': markers({ drum: 3.2, sectorB: 1 }) });
  services = diskServices(root);
  await services.analyse('one', () => undefined, new AbortController().signal);
});
afterAll(() => rmSync(root, { recursive: true, force: true }));

test('a spoilt report is told in a line, then a good one is shown again; a deleted take is told', async () => {
  const posted: ToPage[] = [];
  const session = new ReportSession(
    'one',
    services,
    (message) => posted.push(message),
    (error) => {
      throw error;
    },
  );
  const last = () => posted.findLast(({ kind }) => kind !== 'advice');
  await session.receive({ kind: 'ready' });
  await expect.poll(() => posted.some(({ kind }) => kind === 'advice')).toBe(true);
  const good = readFileSync(inTake('report.json'));
  const log = readFileSync(join(root, 'CALIBRATION.md'), 'utf8');

  writeFileSync(inTake('report.json'), good.subarray(0, good.length >> 1));
  await session.refresh();
  expect(last()).toMatchObject({
    kind: 'problem',
    message: expect.stringMatching(/report\.json.*;/) as string,
  });
  // What is pressed on what the page still shows is not obeyed, and why is said again.
  const told = last();
  await session.receive({ kind: 'accept', run: 1, adjusters: ['lever-drum'], others: [] });
  expect(last()).toEqual(told);
  expect(readFileSync(join(root, 'CALIBRATION.md'), 'utf8')).toBe(log);

  writeFileSync(inTake('report.json'), good);
  await session.refresh();
  expect(last()).toMatchObject({ kind: 'report' });

  rmSync(inTake('report.json'));
  await session.refresh();
  expect(last()).toMatchObject({ kind: 'problem', message: 'This take has not been analysed yet.' });

  rmSync(join(root, 'takes/one'), { recursive: true });
  await session.refresh();
  expect(last()).toMatchObject({
    kind: 'problem',
    message: expect.stringMatching(/no longer there/) as string,
  });
  await session.receive({ kind: 'accept', run: 1, adjusters: ['lever-drum'], others: [] });
  expect(last()).toMatchObject({
    kind: 'problem',
    message: expect.stringMatching(/no longer there/) as string,
  });
  expect(existsSync(join(root, 'takes/one'))).toBe(false);
  session.close();
});
