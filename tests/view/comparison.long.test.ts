/** Two takes over each other in a real browser: nothing is cut off or refused, in three themes and at three widths. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { build } from 'esbuild';
import { type Browser, chromium } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { parseReport } from '../../analysis/report/parse.ts';
import { comparisonPage } from '../../extension/common/comparison-page.ts';
import { stillPage } from '../../extension/host/still-page.ts';
import { barrelReport } from '../report/barrels.ts';
import { chromiumFlags, chromiumPath, noBrowser } from './page.ts';
import { themes } from './themes.ts';

describe.skipIf(noBrowser !== null)(
  `in a browser${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`,
  () => {
    let browser: Browser;
    const folder = mkdtempSync(join(tmpdir(), 'shimwright-comparison-'));
    beforeAll(async () => {
      const built = await build({ entryPoints: ['extension/view/page.css'], bundle: true, write: false });
      writeFileSync(join(folder, 'style.css'), built.outputFiles[0].text);
      browser = await chromium.launch({ executablePath: chromiumPath, args: chromiumFlags });
    });
    afterAll(async () => {
      await browser.close();
      rmSync(folder, { recursive: true, force: true });
    });

    /** Two reports of a barrel of many sectors; or of two files, to look at pictures of others. */
    function pair() {
      const given = process.env.REPORTS?.split(',');
      if (given !== undefined)
        return given.map((file: string) => parseReport(file, readFileSync(file, 'utf8')));
      const before = barrelReport(6, 8, 4, 5);
      const groups = before.groups.map((group, i) => ({
        ...group,
        meanMs: (group.meanMs ?? 0) + (i % 3) - 1,
      }));
      return [before, { ...before, take: 'later', groups }];
    }

    test.each([
      [360, 'high-contrast'],
      [800, 'dark'],
      [1400, 'light'],
    ] as const)('%d px wide, %s', async (width, theme) => {
      const [before, after] = pair();
      const { kind, colours } = themes[theme];
      const content = comparisonPage(before, after, [before.take, after.take]);
      const html = stillPage('file:', 'style.css', 'Comparison', content).replace(
        '<body>',
        `<body class="${kind}">`,
      );
      writeFileSync(join(folder, 'page.html'), html);
      const page = await browser.newPage({ viewport: { width, height: 900 } });
      const complaints: string[] = [];
      page.on('console', (message) => complaints.push(message.text()));
      await page.goto(`file://${join(folder, 'page.html')}`);
      // As the editor does: through the root's own style, which the policy does not govern.
      await page.evaluate((all) => {
        for (const [key, value] of Object.entries(all))
          document.documentElement.style.setProperty(`--vscode-${key}`, value);
      }, colours);
      const seen = await page.evaluate(() => ({
        beyond: document.documentElement.scrollWidth - window.innerWidth,
        pictures: document.querySelectorAll('.in-both svg').length,
        ring: getComputedStyle(document.querySelector('.in-both .before')!).stroke,
        dot: getComputedStyle(document.querySelector('.in-both .after')!).fill,
        ground: getComputedStyle(document.body).backgroundColor,
      }));
      expect(seen.beyond).toBeLessThanOrEqual(0);
      expect(seen.pictures).toBeGreaterThan(2);
      for (const colour of [seen.ring, seen.dot]) expect(colour).not.toBe(seen.ground);
      if (process.env.PICTURES)
        await page.screenshot({ path: `${process.env.PICTURES}/compare-${width}-${theme}.png` });
      await page.close();
      expect(complaints).toEqual([]);
    });
  },
);
