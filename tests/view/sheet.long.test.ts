// The work sheet in a real browser: on a phone nothing is cut off, and on paper every task is whole.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Browser, chromium } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readMachine } from '../../analysis/machine/read.ts';
import type { Advice } from '../../analysis/results/results.ts';
import { sheetText } from '../../extension/common/sheet-text.ts';
import { exampleReport } from '../report/example.ts';
import { chromiumFlags, chromiumPath, noBrowser } from './page.ts';

const adjusters = Array.from({ length: 14 }, (_, i) => ({
  id: `lever-of-the-${i + 1}-striker`,
  unit: 'shim',
  perUnit: { mm: 0.1 },
  shifts: { channels: ['gong'] },
  installed: 4,
  min: 0,
  max: 9,
}));
const machineText = JSON.stringify({
  name: 'Osier Row',
  reference: 'block',
  barrel: {
    steps: 384,
    stepsPerBeat: 4,
    diameterMm: 300,
    sectors: [0, 48, 96, 144, 192, 240, 288, 336].map((from, i) => ({ id: 'ABCDEFGH'[i], from })),
  },
  channels: [
    { id: 'block', onBarrel: false },
    { id: 'gong', name: 'A gong with quite a long name of its own' },
    { id: 'drum' },
  ],
  adjusters,
});
const pins = Array.from({ length: 190 }, (_, i) => `${2 * i + 2},${i % 2 === 0 ? 'gong' : 'drum'}`);
const pattern = ['step,channel', '0,block', ...pins].join('\n');

describe.skipIf(noBrowser !== null)('in a browser', () => {
  let browser: Browser;
  let file: string;
  const folder = mkdtempSync(join(tmpdir(), 'shimwright-sheet-'));
  beforeAll(async () => {
    const machine = await readMachine('machine.jsonc', machineText, () =>
      Promise.resolve(new TextEncoder().encode(pattern)),
    );
    const report = exampleReport();
    const advice: Advice = {
      ...report.advice,
      settings: adjusters.map(({ id, unit, installed }) => ({ adjuster: id, unit, installed, proposed: 6 })),
    };
    file = join(folder, 'work-sheet.html');
    writeFileSync(file, sheetText(machine, report, advice));
    browser = await chromium.launch({ executablePath: chromiumPath, args: chromiumFlags });
  });
  afterAll(async () => {
    await browser.close();
    rmSync(folder, { recursive: true, force: true });
  });

  test.each([360, 800, 1400])(
    '%d px wide: nothing is cut off, and the barrel keeps its own scroll',
    async (width) => {
      const page = await browser.newPage({ viewport: { width, height: 800 } });
      const complaints: string[] = [];
      page.on('console', (message) => complaints.push(message.text()));
      await page.goto(`file://${file}`);
      const beyond = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
      expect(beyond).toBeLessThanOrEqual(0);
      const size = await page
        .locator('.task')
        .first()
        .evaluate((task) => parseFloat(getComputedStyle(task).fontSize));
      expect(size).toBeGreaterThanOrEqual(24);
      await page.locator('label', { hasText: 'lever-of-the-3-striker' }).click();
      expect(await page.locator('input:checked').count()).toBe(1);
      expect(complaints).toEqual([]);
      await page.close();
    },
  );

  test.each(['A4', 'Letter'])('on %s: every task and every drawing is whole', async (format) => {
    const page = await browser.newPage();
    await page.goto(`file://${file}`);
    const pdf = await page.pdf({ format, preferCSSPageSize: false });
    await page.close();
    const printed = join(folder, `${format}.pdf`);
    writeFileSync(printed, pdf);
    const { status, stdout } = spawnSync('pdftotext', ['-layout', printed, '-'], { encoding: 'utf8' });
    if (status === null) return expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
    const pages = stdout.split('\f').slice(0, -1);
    for (const { id } of adjusters) {
      const own = pages.filter((text) => text.includes(`${id}: from 4 to 6`));
      expect(own).toHaveLength(1);
      // The blank stands on the page of its task: as many of one as of the other.
      const count = (words: RegExp) => own[0].match(words)?.length ?? 0;
      expect(count(/Really fitted:/g)).toBe(count(/: from 4 to 6/g));
    }
    expect(pages[0]).toMatch(/^\s*Before anything on the machine is changed/);
    const drawn = pages.filter((text) => text.includes('sector A'));
    expect(drawn.some((text) => /sector A.*sector B/s.test(text) && text.includes('sector H'))).toBe(true);
  });
});
