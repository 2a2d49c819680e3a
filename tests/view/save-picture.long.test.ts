/** "Save picture": the PNG shows what a browser makes of the same drawing, with the verdict and the change below it. */
import { writeFileSync } from 'node:fs';
import { parseHTML } from 'linkedom';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { pictureOf } from '../../analysis/report/plot.ts';
import { serialise } from '../../analysis/report/svg.ts';
import type { Report } from '../../analysis/results/results.ts';
import { isMarkedPng, isPng, markedPng } from '../../extension/common/marked-png.ts';
import type { ToHost } from '../../extension/protocol/messages.ts';
import { changeLines } from '../../extension/view/save-picture.ts';
import { barrelReport } from '../report/barrels.ts';
import { exampleReport, hostileWords, namedWith } from '../report/example.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';
import { messageOf } from './report-message.ts';

test('safety stands before the change, and where nothing is to be changed there is none', () => {
  const { advice } = exampleReport();
  expect(changeLines(advice)).toEqual([
    'Stop the drive, isolate it and lock it out, and let moving and raised parts come to rest before reaching in.',
    `To change: joint-AB 3 → 5 (shim), lever-gong 2 → 1 (shim). ${advice.summary}`,
  ]);
  expect(changeLines({ ...advice, settings: [] })).toEqual([advice.summary]);
});

describe.skipIf(noBrowser !== null)(
  `in a browser${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`,
  () => {
    let house: PageHouse;
    let open: OpenPage;
    beforeAll(async () => {
      house = await PageHouse.open();
    });
    afterAll(() => house.close());
    afterEach(() => open.close());

    /** The file that the page sends. */
    async function saved(report: Report, theme: 'dark' | 'high-contrast' = 'dark'): Promise<Uint8Array> {
      open = await house.page(theme);
      await open.post(messageOf(report));
      await open.page.waitForSelector('[data-run]');
      await open.page.getByRole('button', { name: 'Save picture' }).click();
      const found = () =>
        open.sent.findLast(
          (each): each is Extract<ToHost, { kind: 'save-picture' }> => each.kind === 'save-picture',
        );
      await expect.poll(found, { timeout: 20_000 }).toBeDefined();
      // What crosses from the browser to this test is no typed array any more.
      return Uint8Array.from(Object.values(found()!.png));
    }

    /**
     * The share of cells, 8 pixels a side, in which two pictures differ by more than 40 of 255: a letter that is left out or
     * moved by a few pixels does, the smoothing of its edges does not.
     *
     * @param svg of half as many pixels a side
     */
    async function compared(png: Uint8Array, svg: string) {
      const page = await open.page.context().browser()!.newPage();
      try {
        return await page.evaluate(
          async ([first, second]) => {
            const load = async (address: string) => {
              const image = new Image();
              image.src = address;
              await image.decode();
              return image;
            };
            const [a, b] = [await load(first), await load(second)];
            const cell = 8;
            const [wide, tall] = [Math.ceil(a.width / cell), Math.ceil(a.height / cell)];
            const cells = (image: HTMLImageElement) => {
              const canvas = document.createElement('canvas');
              [canvas.width, canvas.height] = [a.width, a.height];
              const context = canvas.getContext('2d')!;
              context.drawImage(image, 0, 0, a.width, a.height);
              const { data } = context.getImageData(0, 0, a.width, a.height);
              const sums = new Float64Array(wide * tall);
              for (let y = 0; y < a.height; y++)
                for (let x = 0; x < a.width; x++)
                  sums[Math.floor(y / cell) * wide + Math.floor(x / cell)] += data[4 * (y * a.width + x) + 1];
              return sums.map((sum) => sum / cell ** 2);
            };
            const [one, other] = [cells(a), cells(b)];
            const apart = one.filter((value, i) => Math.abs(value - other[i]) > 40).length;
            return { apart: apart / one.length, size: [a.width, a.height], of: [b.width, b.height] };
          },
          [
            `data:image/png;base64,${Buffer.from(png).toString('base64')}`,
            `data:image/svg+xml;base64,${Buffer.from(svg).toString('base64')}`,
          ] as const,
        );
      } finally {
        await page.close();
      }
    }

    const drawn = (report: Report) =>
      serialise(
        pictureOf(
          report,
          changeLines(report.advice),
          parseHTML('<!doctype html><html><body></body></html>').document,
        ),
      );

    test.each([
      ['two channels', exampleReport(), 'dark'],
      ['twelve channels in two columns', barrelReport(12, 6, 6, 4), 'high-contrast'],
    ] as const)(
      '%s: as a browser draws it, twice as fine, whatever the theme',
      async (name, report, theme) => {
        const png = await saved(report, theme);
        expect(isPng(png)).toBe(true);
        if (process.env.PICTURES)
          writeFileSync(`${process.env.PICTURES}/saved-${name.replaceAll(' ', '-')}.png`, png);
        const { apart, size, of } = await compared(png, drawn(report));
        expect(size).toEqual(of.map((length) => 2 * length));
        expect(apart).toBeLessThan(1e-4);
        // One word more or less would be seen.
        const other = drawn({ ...report, machine: 'Hill Lane attic bench' });
        expect((await compared(png, other)).apart).toBeGreaterThan(5e-4);
        // A picture that is marked as ours is the same picture.
        expect(isMarkedPng(png)).toBe(false);
        const marked = markedPng(png);
        expect(isMarkedPng(marked)).toBe(true);
        expect((await compared(marked, drawn(report))).apart).toBe(apart);
        expect(await open.page.locator('.drawn-aside').count()).toBe(0);
        expect(open.complaints).toEqual([]);
      },
    );

    test('where nothing may be written it is not offered', async () => {
      open = await house.page('dark');
      await open.post(messageOf(exampleReport(), { mayChange: false }));
      await open.page.waitForSelector('[data-run]');
      expect(await open.page.getByRole('button', { name: 'Save picture' }).count()).toBe(0);
    });

    test.each(hostileWords.slice(0, 6))('%j is drawn as text', async (word) => {
      const png = await saved(namedWith(word));
      expect(isPng(png)).toBe(true);
      expect(open.complaints).toEqual([]);
    });
  },
);
