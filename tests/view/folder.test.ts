/** The page with a machine's folder behind it: what a person does in it is found on the disk afterwards. */
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { parseReport } from '../../analysis/report/parse.ts';
import { ReportSession } from '../../extension/host/report-session.ts';
import type { ToPage } from '../../extension/protocol/messages.ts';
import { makeMachine, markers } from '../cli/small-machine.ts';
import { diskServices } from './disk-services.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';

describe.skipIf(noBrowser !== null)(
  `the report page on a folder${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`,
  () => {
    let house: PageHouse;
    let open: OpenPage;
    let root: string;
    let session: ReportSession;
    const defects: unknown[] = [];
    const onDisk = (name: string) => readFileSync(join(root, name), 'utf8');
    const reportNow = () => parseReport('report.json', onDisk('takes/one/report.json'));
    const firstDrum = () => reportNow().hits.find(({ channel }) => channel === 'drum')!;

    beforeAll(async () => {
      root = makeMachine({ 'takes/one/heard.csv': markers({ drum: 3.2, sectorB: 1 }) });
      const services = diskServices(root);
      await services.analyse('one', () => undefined, new AbortController().signal);
      house = await PageHouse.open();
      open = await house.page('light', (message) => void session?.receive(message));
      const post = (message: ToPage) => void open.post(message);
      session = new ReportSession('one', services, post, (error) => defects.push(error));
      // The page said that it is ready before anybody listened.
      await session.receive({ kind: 'ready' });
      await open.page.waitForSelector('[data-run="1"]');
    });
    afterAll(async () => {
      session.close();
      await house.close();
      rmSync(root, { recursive: true, force: true });
    });

    test('a hit marked as wrong is in corrections.csv, and the take is analysed again', async () => {
      const { timeS } = firstDrum();
      const { page } = open;
      await page.locator('.panel[data-channel=drum] .sheet').focus();
      await page.keyboard.press('Home');
      await page.locator('.correct summary').click();
      await page.locator('.correct input[name=note]').fill('=HYPERLINK("https://example.invalid")');
      await page.getByRole('button', { name: 'Write it to corrections.csv' }).click();
      await page.waitForSelector('[data-run="2"]');
      expect(onDisk('takes/one/corrections.csv')).toBe(
        `time,channel,action,note\n${timeS.toFixed(6)},drum,drop,"'=HYPERLINK(""https://example.invalid"")"\n`,
      );
      expect(await page.locator('.corrections li').count()).toBe(1);
      expect(await page.locator('.changes').textContent()).toContain('Analysed again');
    });

    test('taken back, the file is as it was', async () => {
      await open.page.getByRole('button', { name: /^Take back/ }).click();
      await open.page.waitForSelector('[data-run="3"]');
      expect(onDisk('takes/one/corrections.csv')).toBe('time,channel,action,note\n');
      expect(await open.page.locator('.corrections').count()).toBe(0);
    });

    test('one setting accepted is in machine.jsonc and in the changelog', async () => {
      const lever = reportNow().advice.settings.find(({ adjuster }) => adjuster === 'lever-drum')!;
      await open.page.getByRole('checkbox', { name: 'lever-drum: this is done' }).check();
      await open.page.getByRole('button', { name: /^Write what is ticked/ }).click();
      await open.page.getByText('Recorded in machine.jsonc').waitFor();
      expect(onDisk('CALIBRATION.md')).toContain('lever-drum');
      expect(onDisk('machine.jsonc')).toContain(`"installed": ${lever.proposed}, "min": 0, "max": 9`);
      expect(onDisk('machine.jsonc')).toContain('// A barrel for tests; this comment stays');
      expect(onDisk('machine.jsonc')).toContain('"installed": 3, "min": 0, "max": 8');
    });

    test('a fault while analysing is one line, and the report stays', async () => {
      writeFileSync(join(root, 'takes/one/heard.csv'), 'time,label\n');
      await open.page.getByRole('button', { name: 'Analyse again' }).click();
      await open.page.getByRole('alert').waitFor();
      expect(await open.page.getByRole('alert').textContent()).toContain('marker');
      expect(await open.page.locator('h1').count()).toBe(1);
      expect(defects).toEqual([]);
      expect(open.complaints).toEqual([]);
    });
  },
);
