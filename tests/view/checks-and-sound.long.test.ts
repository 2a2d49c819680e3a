/** What the checks measured, a channel over the takes, and the advice heard before it is done, in a real browser. */
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { ChannelInTakes, ToHost } from '../../extension/protocol/messages.ts';
import type { Report } from '../../analysis/results/results.ts';
import { exampleReport, hostileWords } from '../report/example.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';
import { adviceMessageOf, messageOf } from './report-message.ts';

const sampleRate = 48_000;

function withSections(name = 'output of the gearhead'): Report {
  return {
    ...exampleReport(),
    sections: [
      {
        id: 'shaft-wobble',
        title: 'Shafts',
        sentences: ['No shaft’s turn shows in the course of this take.'],
        plot: {
          xLabel: 'beats a turn',
          yLabel: 'ms late and early',
          scale: 'logarithmic',
          rules: [{ axis: 'x', at: 4, name }],
          series: [
            {
              name: 'the course',
              line: true,
              points: [
                [2, 0.1],
                [4, 0.3],
                [8, 0.1],
              ],
            },
            {
              name: 'what scatter may reach',
              line: true,
              points: [
                [2, 0.2],
                [8, 0.2],
              ],
            },
          ],
        },
      },
      {
        id: 'beat-steadiness',
        title: 'Steadiness of the beat',
        sentences: ['Nothing to mend in the drive.'],
        table: { columns: ['over, s', 'ppm'], rows: [['0.5', '120']] },
      },
    ],
  };
}

const line = (take: string, wearMs: number | null, signal: 'beyond' | 'run' | null = null) => ({
  take,
  recorded: '2026-05-02T21:40',
  latenessMs: wearMs,
  ci95Ms: wearMs === null ? null : 0.2,
  repeatabilityMs: 0.3,
  wearMs,
  changed: take === 'june' ? ['lever-gong 2→1'] : [],
  levelDb: -12.3,
  againstOthersDb: null,
  signal,
});

describe.skipIf(noBrowser !== null)(
  `the report page${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}: checks, history, sound`,
  () => {
    let house: PageHouse;
    let open: OpenPage;

    beforeAll(async () => {
      house = await PageHouse.open();
    });
    afterAll(() => house.close());
    afterEach(() => open.close());

    async function show(report: Report) {
      open = await house.page('dark');
      await open.post(messageOf(report));
      await open.page.waitForSelector('[data-run]');
      return open.page;
    }
    const last = <K extends ToHost['kind']>(kind: K) =>
      open.sent.findLast((message): message is Extract<ToHost, { kind: K }> => message.kind === kind);

    test('each check has its sentences, its plot in the theme’s colours, and its points as a table', async () => {
      const page = await show(withSections());
      await page.locator('#checks').scrollIntoViewIfNeeded();
      const plot = page.locator('.check[aria-label=Shafts] svg.plot');
      await plot.waitFor();
      expect(await plot.getAttribute('aria-label')).toBe(
        'Shafts: No shaft’s turn shows in the course of this take.',
      );
      const texts = await plot.locator('text').allTextContents();
      for (const words of ['beats a turn', 'output of the gearhead', 'the course'])
        expect(texts).toContain(words);
      expect(await plot.locator('[stroke="var(--ink)"]').count()).toBeGreaterThan(0);
      await page.locator('.check[aria-label=Shafts] summary').click();
      await expect.poll(() => page.locator('.check[aria-label=Shafts] tbody tr').count()).toBe(5);
      expect(await page.locator('.check').nth(1).locator('tbody').textContent()).toBe('0.5120');
      expect(open.complaints).toEqual([]);
    });

    test('a channel over the takes: asked for when it is wanted, the one out of its limits first', async () => {
      const page = await show(exampleReport());
      expect(last('history')).toBeUndefined();
      await page.getByRole('button', { name: 'Show how each channel went' }).click();
      await expect.poll(() => last('history')).toBeDefined();
      const chart = { middle: 3, lower: 2.5, upper: 3.5, signals: [null, null, null, 'beyond' as const] };
      const channels: ChannelInTakes[] = [
        { channel: 'drum', lines: [line('may', 1), line('june', null)], chart: null, loudness: null },
        {
          channel: 'gong',
          lines: [line('may', 3), line('june', 3.1), line('july', 2.9), line('august', 5, 'beyond')],
          chart,
          loudness: 'It fades: 3.0 ± 0.6 dB fainter.',
        },
        { channel: 'nobody', lines: [line('may', null)], chart: null, loudness: null },
      ];
      await open.post({ kind: 'history', run: 1, request: last('history')!.request, channels });
      await page.locator('#history svg.plot').waitFor();
      expect(await page.locator('#history select').inputValue()).toBe('gong');
      expect(await page.locator('#history option').allTextContents()).toEqual(['drum', 'Gong']);
      expect(await page.locator('#history p').first().textContent()).toContain('august out of its limits');
      expect(await page.locator('#history p').nth(1).textContent()).toContain('fades');
      const texts = await page.locator('#history svg text').allTextContents();
      expect(texts).toEqual(
        expect.arrayContaining(['usual', 'upper limit', 'lower limit', 'out of the usual']),
      );
      expect(await page.locator('#history tbody tr').nth(1).textContent()).toContain('lever-gong 2→1');
      await page.locator('#history select').selectOption('drum');
      expect(await page.locator('#history p').first().textContent()).toBe('Too few takes for limits.');
      // A newer report of the same take asks for them anew by itself.
      await open.post(messageOf(exampleReport(), { run: 2 }));
      await expect.poll(() => last('history')).toMatchObject({ run: 2 });
      await open.post({ kind: 'history', run: 2, request: last('history')!.request, channels });
      await page.locator('#history svg.plot').waitFor();
      expect(open.complaints).toEqual([]);
    });

    test('the advice is heard: each hit is played where it is predicted', async () => {
      const page = await show(exampleReport());
      await page.evaluate(() => {
        const played: number[][] = [];
        Object.assign(window, { played });
        const start = Object.getOwnPropertyDescriptor(AudioScheduledSourceNode.prototype, 'start')!.value as (
          this: AudioScheduledSourceNode,
        ) => void;
        AudioBufferSourceNode.prototype.start = function () {
          start.call(this);
          const samples = this.buffer!.getChannelData(0);
          const loud = [...samples.keys()].filter((i) => Math.abs(samples[i]) > 0.45);
          played.push(loud.filter((i, k) => k === 0 || i - loud[k - 1] > 100));
        };
      });
      const clickAt = [0.5, 1.25, 6.5];
      for (const name of ['Hear it as it is', 'Hear it as advised']) {
        const before = last('clips')?.request;
        await page.getByRole('button', { name }).click();
        await expect.poll(() => last('clips')?.request).not.toBe(before);
        const { request, wants } = last('clips')!;
        expect(wants.every(({ fromS, toS }) => toS - fromS <= 5)).toBe(true);
        const clips = wants.map(({ fromS, toS }) => {
          const first = Math.round(fromS * sampleRate);
          const samples = new Float32Array(Math.round(toS * sampleRate) - first);
          for (const s of clickAt) {
            const i = Math.round(s * sampleRate) - first;
            if (i >= 0 && i < samples.length) samples[i] = 0.5;
          }
          return { sampleRate, fromS: first / sampleRate, samples };
        });
        await open.post({ kind: 'clips', run: 1, request, clips, why: null });
      }
      await expect
        .poll(() => page.evaluate(() => (window as unknown as { played: number[][] }).played.length))
        .toBe(2);
      const played = await page.evaluate(() => (window as unknown as { played: number[][] }).played);
      // From 0.3 s before the first hit, at 0.5 s. The gong's at 1.25 s goes from +4.3 to +0.4 ms: 187 samples earlier.
      const from = Math.round(0.2 * sampleRate);
      expect(played[0]).toEqual(clickAt.map((s) => Math.round(s * sampleRate) - from));
      expect(played[1]).toEqual([played[0][0], played[0][1] - 187, played[0][2]]);
      // What to change now comes later than the page: it takes the place of the table, not of what is heard.
      await open.post(adviceMessageOf(exampleReport()));
      expect(await page.getByText('Playing as advised').count()).toBe(1);
      expect(open.complaints).toEqual([]);
    });

    test('all strokes are opened as a table', async () => {
      const page = await show(exampleReport());
      await page.getByRole('button', { name: 'All strokes as CSV' }).click();
      await expect.poll(() => last('open-strokes')).toEqual({ kind: 'open-strokes' });
    });

    test('both are written as files when a person wants them', async () => {
      const page = await show(exampleReport());
      await page.getByRole('button', { name: 'Write both as WAVE files' }).click();
      await expect.poll(() => last('hear')).toEqual({ kind: 'hear', run: 1 });
      await open.post(messageOf(exampleReport(), { run: 2, mayChange: false }));
      await page.waitForSelector('[data-run="2"]');
      expect(await page.getByRole('button', { name: 'Write both as WAVE files' }).count()).toBe(0);
      expect(await page.getByRole('button', { name: 'Hear it as advised' }).count()).toBe(1);
    });

    test.each(hostileWords)('%j stays text in a plot', async (word) => {
      const page = await show(withSections(word));
      await page.locator('#checks').scrollIntoViewIfNeeded();
      await page.locator('#checks svg.plot').first().waitFor();
      expect(
        await page.locator('#page :is(script, img, iframe, a, object, embed, style, link, b)').count(),
      ).toBe(0);
      expect(open.complaints).toEqual([]);
    });
  },
);
