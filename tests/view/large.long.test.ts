/**
 * A report of an hour's size: 40 channels, 12 sectors, 201 600 hits. What is asserted does not depend on the machine's
 * speed; the times are printed, as measured.
 */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { barrelReport } from '../report/barrels.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';
import { messageOf } from './report-message.ts';

const turns = 60;
const hits = 40 * 12 * 7 * turns;

describe.skipIf(noBrowser !== null)(
  `a report of ${hits} hits${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`,
  () => {
    let house: PageHouse;
    let open: OpenPage;

    beforeAll(async () => {
      house = await PageHouse.open();
      open = await house.page('dark');
    });
    afterAll(() => house.close());

    /** One turn goes over; the page repeats it, so that the test does not time its own transport. */
    async function show(run: number): Promise<number> {
      const message = messageOf(barrelReport(40, 12, 1, 7), { run });
      return open.page.evaluate(
        ({ message, turns, run }) => {
          const { hits } = message;
          const count = hits.timeS.length;
          const repeat = <T extends Float64Array | Int32Array>(
            column: T,
            change: (value: number, turn: number) => number = (value) => value,
          ): T => {
            const all = new (column.constructor as new (length: number) => T)(count * turns);
            for (let turn = 0; turn < turns; turn++)
              for (let i = 0; i < count; i++) all[turn * count + i] = change(column[i], turn);
            return all;
          };
          const large = {
            ...message,
            hits: {
              ...hits,
              timeS: repeat(hits.timeS, (value, turn) => value + turn * 60),
              timeSdS: repeat(hits.timeSdS),
              latenessMs: repeat(
                hits.latenessMs,
                (value, turn) => value + 0.5 * Math.sin(value * 1e3 + turn),
              ),
              track: repeat(hits.track),
              turn: repeat(hits.turn, (_, turn) => turn),
              step: repeat(hits.step),
              channel: repeat(hits.channel),
              sector: repeat(hits.sector),
              why: repeat(hits.why),
            },
          };
          return new Promise<number>((settle) => {
            // From before the message is sent: its copy between frames is part of the wait. Ends a frame after drawing.
            const start = performance.now();
            const watch = () => {
              if (document.querySelector(`[data-run="${run}"]`) === null) requestAnimationFrame(watch);
              else requestAnimationFrame(() => settle(performance.now() - start));
            };
            window.postMessage(large, '*');
            requestAnimationFrame(watch);
          });
        },
        { message, turns, run },
      );
    }

    test('is drawn, and only the rows and panels on the screen exist', async () => {
      const drawnMs = await show(1);
      const { page } = open;
      expect(await page.locator('.facts').textContent()).toContain(`${hits} hits`);
      expect(await page.locator('.map .cell').count()).toBe(480);
      expect(await page.locator('#list [role=row]').count()).toBeLessThan(60);
      expect(await page.locator('.panel').count()).toBe(40);
      expect(await page.locator('.panel svg').count()).toBeLessThan(12);
      console.log(`page, ${hits} hits: drawn ${drawnMs.toFixed(0)} ms after the message was sent`);
      expect(open.complaints).toEqual([]);
    });

    test('scrolls from end to end, and the last stroke is reached by one key', async () => {
      const { page } = open;
      const frames = await page.evaluate(
        () =>
          new Promise<number[]>((settle) => {
            const end = document.documentElement.scrollHeight - innerHeight;
            const times: number[] = [];
            let last = performance.now();
            const step = (now: number) => {
              times.push(now - last);
              last = now;
              window.scrollBy(0, 60);
              if (window.scrollY >= end - 1 || times.length > 400) settle(times.slice(1));
              else requestAnimationFrame(step);
            };
            requestAnimationFrame(step);
          }),
      );
      await page.locator('#list .scroller').focus();
      await page.keyboard.press('End');
      expect(await page.locator('#list .row.chosen').getAttribute('aria-rowindex')).toBe(`${hits + 1}`);
      frames.sort((a, b) => a - b);
      const at = (share: number) => frames[Math.floor(share * (frames.length - 1))].toFixed(0);
      console.log(
        `page, scrolled through: frames of ${at(0.5)} ms (median), ${at(0.95)} ms (95 %), ${at(1)} ms (longest)`,
      );
    });

    test('twenty reports after each other leave no more behind than one', async () => {
      const client = await open.page.context().newCDPSession(open.page);
      const usedMb = async () => {
        await client.send('HeapProfiler.collectGarbage');
        // Columns are kept outside the heap proper.
        const { usedSize, backingStorageSize } = await client.send('Runtime.getHeapUsage');
        return (usedSize + backingStorageSize) / 1e6;
      };
      await show(2);
      const first = await usedMb();
      for (let run = 3; run < 22; run++) await show(run);
      const last = await usedMb();
      console.log(`page, heap after one report ${first.toFixed(1)} MB, after twenty ${last.toFixed(1)} MB`);
      // One report's columns alone are 12 MB: were each kept, there would be hundreds.
      expect(last - first).toBeLessThan(12);
    });
  },
);
