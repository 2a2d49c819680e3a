/** The page as people use it, in a real browser: what it shows, what keys and clicks do, what it refuses. */
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { Report } from '../../analysis/results/results.ts';
import type { ToHost } from '../../extension/protocol/messages.ts';
import { exampleReport, exampleWithOutcome, hit, hostileWords, namedWith } from '../report/example.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';
import { adviceMessageOf, messageOf } from './report-message.ts';

describe.skipIf(noBrowser !== null)(
  `the report page${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`,
  () => {
    let house: PageHouse;
    let open: OpenPage;

    beforeAll(async () => {
      house = await PageHouse.open();
    });
    afterAll(() => house.close());
    afterEach(() => open.close());

    /** @param take makes state of another test no matter */
    async function show(report: Report = exampleReport(), details: Parameters<typeof messageOf>[1] = {}) {
      open = await house.page('dark');
      await open.post(messageOf(report, details));
      await open.page.waitForSelector('[data-run]');
      return open.page;
    }
    const kinds = () => open.sent.map(({ kind }) => kind);
    const last = <K extends ToHost['kind']>(kind: K) =>
      open.sent.findLast((message): message is Extract<ToHost, { kind: K }> => message.kind === kind);

    test('asks for a report when it is ready, and the verdict comes first', async () => {
      const page = await show();
      await expect.poll(() => kinds()[0]).toBe('ready');
      const headings = await page.locator('h1, h2').allTextContents();
      expect(headings[0]).toMatch(/^Out of tolerance/);
      expect(headings.slice(1)).toEqual([
        'What to change',
        'Channels and sectors',
        'Findings',
        'The barrel unrolled',
        'Every stroke',
        'Tempo over the take',
        'What the checks measured',
        'Over the takes',
        'List of strokes',
      ]);
      expect(open.complaints).toEqual([]);
    });

    test('what became of the last change comes before the next one, where there was one', async () => {
      const page = await show(exampleWithOutcome());
      const headings = await page.locator('h2').allTextContents();
      expect(headings.slice(0, 2)).toEqual(['Did it work?', 'What to change']);
      expect(await page.locator('#outcome .summary').textContent()).toMatch(
        /^Since take first-round: take second-round: worst mean 7\.0 → 4\.3 ms, 1 of 2 groups as predicted/,
      );
      const cells = await page.locator('#outcome tbody tr').locator('th, td').allTextContents();
      expect(cells).toEqual(['Gong', 'B', '+0.20 ± 0.60', '−3.40 ± 0.30']);
      await page.getByRole('button', { name: 'Did it work?' }).click();
      expect(await page.evaluate(() => document.activeElement?.id)).toBe('outcome-title');
      expect(open.complaints).toEqual([]);
    });

    test('safety comes before the settings', async () => {
      const page = await show();
      const texts = await page.locator('#advice > *').allTextContents();
      const safety = texts.findIndex((text) => text.includes('lock it out'));
      expect(safety).toBeGreaterThan(0);
      expect(texts.findIndex((text) => text.includes('joint-AB'))).toBeGreaterThan(safety);
    });

    test('every group is a cell that says its lateness and judgement in words', async () => {
      const page = await show();
      const cells = await page.locator('.map .cell').evaluateAll((all) => all.map((cell) => cell.ariaLabel));
      expect(cells).toHaveLength(6);
      expect(cells).toContain('Gong, sector A: +4.30 ± 0.30 ms, late, 12 strokes');
      expect(cells).toContain('drum, sector B: not measured, 2 strokes');
    });

    test('the list is a table of every stroke, with the same figures', async () => {
      const page = await show();
      const rows = page.locator('#list [role=row]:not(.head)');
      expect(await rows.count()).toBe(7);
      expect(await rows.nth(1).locator('[role=gridcell]').allTextContents()).toEqual([
        '0:01.250',
        'Gong',
        '+4.20',
        'A',
        '6',
        '1',
        'used',
      ]);
      expect(await page.locator('#list .scroller').getAttribute('aria-rowcount')).toBe('8');
      await page.locator('#list select').nth(2).selectOption('late');
      expect(await rows.first().textContent()).toContain('+4.40');
      await page.locator('#list select').nth(1).selectOption('set-aside');
      expect(await rows.count()).toBe(1);
    });

    test('why a moment was no hit: by reason, and about an instant', async () => {
      const dropped = {
        counts: [
          { channel: 'gong', why: 'another track heard it louder', count: 600 },
          { channel: null, why: 'like no sound that was learnt here', count: 1 },
        ],
        moments: [
          { timeS: 1.3, track: 0, channel: 'gong', why: 'another track heard it louder' },
          { timeS: 63.25, track: 0, channel: null, why: 'like no sound that was learnt here' },
        ],
      };
      const page = await show({ ...exampleReport(), dropped });
      const part = page.locator('#dropped');
      await part.locator('summary').click();
      expect(await part.locator('summary').textContent()).toBe(
        'Why was this not a hit? 601 moments were dropped',
      );
      const cells = (table: number) =>
        part.locator('table').nth(table).locator('tbody th, tbody td').allTextContents();
      expect(await cells(0)).toEqual([
        ...['600', 'Gong', 'another track heard it louder'],
        ...['1', '–', 'like no sound that was learnt here'],
      ]);
      const late = ['1:03.250', 'close.wav, track 1', '–', 'like no sound that was learnt here'];
      expect(await cells(1)).toEqual([
        '0:01.300',
        'close.wav, track 1',
        'Gong',
        'another track heard it louder',
        ...late,
      ]);
      expect(await part.locator('[role=status]').textContent()).toMatch(/^2 of 601 listed; of so many/);
      await part.locator('input').fill('63');
      expect(await cells(1)).toEqual(late);
      expect(open.complaints).toEqual([]);
    });

    test('a report that does not say what was dropped has no such part', async () => {
      const page = await show();
      expect(await page.locator('#dropped').count()).toBe(0);
    });

    test('the barrel is drawn unrolled, each pin with its words and in the theme’s colours', async () => {
      const page = await show();
      const pins = page.locator('#barrel svg g > title');
      const words = await pins.evaluateAll((titles) => titles.map(({ textContent }) => textContent));
      expect(words).toEqual(['Gong, step 6: +4.30 ± 0.40 ms, LATE', 'Gong, step 54: −3.40 ± 0.40 ms, EARLY']);
      const fills = await page
        .locator('#barrel svg g > path')
        .evaluateAll((marks) => marks.map((mark) => getComputedStyle(mark).fill));
      const [late, early] = await page.evaluate(() =>
        ['late', 'early'].map((name) => {
          const probe = document.body.appendChild(document.createElement('i'));
          probe.style.color = `var(--${name})`;
          const { color } = getComputedStyle(probe);
          probe.remove();
          return color;
        }),
      );
      expect(fills).toEqual([late, early]);
      expect(late).not.toBe(early);
    });

    test('keys choose strokes; the chosen one is said, and its pin can be shown in the pattern', async () => {
      const page = await show();
      const sheet = page.locator('.panel[data-channel=gong] .sheet');
      await sheet.focus();
      await page.keyboard.press('ArrowRight');
      await page.keyboard.press('ArrowRight');
      expect(await sheet.getAttribute('aria-valuetext')).toBe(
        'Gong, 3.40 ms early, pin at step 54, sector B, turn 1, at 0:07.250',
      );
      expect(await page.locator('[aria-live]').first().textContent()).toContain('3.40 ms early');
      await page.getByRole('button', { name: 'Show in pattern.csv' }).last().click();
      await expect.poll(() => last('show-pin')).toEqual({ kind: 'show-pin', channel: 'gong', step: 54 });
    });

    test('a click near a dot chooses its stroke', async () => {
      const page = await show();
      const sheet = page.locator('.panel[data-channel=gong] .sheet');
      await sheet.scrollIntoViewIfNeeded();
      await page.waitForSelector('.panel[data-channel=gong] svg');
      const box = (await sheet.boundingBox())!;
      // Gong's pin at step 54 of 96, panel margins 40 and 10: early, so below the middle.
      await page.mouse.click(box.x + 40 + ((box.width - 50) * 54.5) / 96, box.y + box.height * 0.68);
      expect(await page.locator('.chosen-stroke h4').textContent()).toBe('Gong, 3.40 ms early');
    });

    test('the map is one tab stop, and arrows go from cell to cell', async () => {
      const page = await show();
      await page.locator('.map .cell').first().focus();
      await page.keyboard.press('ArrowDown');
      await page.keyboard.press('ArrowRight');
      expect(await page.evaluate(() => document.activeElement?.ariaLabel)).toMatch(/^Gong, sector B/);
      await page.keyboard.press('Enter');
      expect(await page.locator('.chosen-stroke h4').textContent()).toBe('Gong, 3.40 ms early');
      expect(await page.locator('.map .cell[tabindex="0"]').count()).toBe(1);
    });

    test('settings are reviewed, accepted singly or together, or entered as fitted', async () => {
      const page = await show();
      const note = page.getByRole('button', { name: /^Write what is ticked/ });
      // Until it is known what to change now, there is nothing to note.
      expect(await note.count()).toBe(0);
      const advice = adviceMessageOf(exampleReport());
      await open.post(advice);
      expect(await note.isDisabled()).toBe(true);
      await page.getByRole('checkbox', { name: 'lever-gong: this is done' }).check();
      expect(last('accept')).toBeUndefined();
      await note.click();
      await expect
        .poll(() => last('accept'))
        .toEqual({ kind: 'accept', run: 1, adjusters: ['lever-gong'], others: [] });
      // Until it is written it stays ticked and is not sent twice; all of a sitting goes as one.
      const sent = open.sent.length;
      await note.click();
      await open.post({ kind: 'noted', done: false, message: null });
      expect(open.sent).toHaveLength(sent);
      expect(await note.textContent()).toBe('Note 1 as fitted');
      await note.click();
      await open.post({ kind: 'noted', done: true, message: 'Recorded.' });
      expect(await note.isDisabled()).toBe(true);
      await open.post(advice);
      await page.getByRole('button', { name: 'Tick all' }).click();
      await note.click();
      await expect.poll(() => last('accept')?.adjusters).toEqual(['joint-AB', 'lever-gong']);
      await page.getByRole('button', { name: 'Review as a diff' }).click();
      await page.getByRole('button', { name: 'Something else was fitted…' }).click();
      await expect.poll(() => kinds().slice(-2)).toEqual(['review', 'fitted']);
    });

    test('a finding leads to its place', async () => {
      const page = await show();
      await page.getByRole('button', { name: 'Open pattern.csv, line 9' }).click();
      await expect.poll(() => last('show-finding')).toEqual({ kind: 'show-finding', run: 1, finding: 0 });
    });

    test('a wrong hit is marked with a note, and what a person said can be taken back', async () => {
      const row = { timeS: 9, channel: '', action: 'drop', note: 'a dropped spanner' } as const;
      const page = await show(exampleReport(), { corrections: [row] });
      await page.locator('#list [data-hit="2"]').click();
      await page.locator('.correct summary').click();
      await page.locator('.correct select[name=action]').selectOption('rename');
      await page.locator('.correct select[name=channel]').selectOption('gong');
      await page.locator('.correct input[name=note]').fill('heard it myself');
      await page.getByRole('button', { name: 'Write it to corrections.csv' }).click();
      await expect
        .poll(() => last('correct'))
        .toEqual({
          kind: 'correct',
          run: 1,
          row: { timeS: 1.5, channel: 'gong', action: 'rename', note: 'heard it myself' },
        });
      await page.getByRole('button', { name: /^Take back/ }).click();
      await expect.poll(() => last('take-back')).toEqual({ kind: 'take-back', run: 1, place: 0, row });
    });

    test('a new report of the take says which means have changed, and keeps the choice', async () => {
      const page = await show();
      await page.locator('#list [data-hit="4"]').click();
      const after = exampleReport();
      after.groups[4] = { ...after.groups[4], meanMs: 4.1 };
      await open.post(messageOf(after, { run: 2 }));
      await page.waitForSelector('[data-run="2"]');
      expect(await page.locator('.changes').textContent()).toContain('1 of 6 means have changed');
      expect(await page.locator('.was').allTextContents()).toEqual(['was +4.30']);
      expect(await page.locator('.chosen-stroke h4').textContent()).toBe('Gong, 3.40 ms early');
    });

    test('where nothing may change, nothing that would is offered', async () => {
      const page = await show(exampleReport(), { mayChange: false });
      await page.locator('#list [data-hit="2"]').click();
      for (const name of [/done/, /Analyse again/, /Something else/, /corrections/])
        expect(await page.getByRole('button', { name }).count()).toBe(0);
      expect(await page.locator('header').textContent()).toContain('not trusted');
    });

    test('waveforms are asked for about each due time and drawn by sector; sound is played from samples', async () => {
      const page = await show();
      await page.locator('#list [data-hit="1"]').click();
      await expect.poll(() => last('clips')).toBeDefined();
      const asked = last('clips')!;
      // Three strokes of the gong; the first was due 4.2 ms before it was heard.
      expect(asked.wants).toHaveLength(3);
      expect(asked.wants[0].fromS).toBeCloseTo(1.25 - 0.0042 - 0.06, 9);
      const click = (length: number) => Float32Array.from({ length }, (_, i) => (i === 3000 ? 1 : 0));
      const clips = asked.wants.map(({ fromS }) => ({ sampleRate: 48000, fromS, samples: click(12480) }));
      await open.post({ kind: 'clips', run: 1, request: asked.request, clips, why: null });
      await page.waitForSelector('.trace-row canvas');
      expect(
        await page.locator('.trace-row canvas').evaluateAll((all) => all.map((each) => each.ariaLabel)),
      ).toEqual([
        '2 of 2 strokes of Gong in sector A, over each other',
        '1 of 1 strokes of Gong in sector B, over each other',
      ]);
      const inked = () =>
        page
          .locator('.trace-row canvas')
          .first()
          .evaluate((canvas: HTMLCanvasElement) => canvas.toDataURL());
      const before = await inked();
      await page.getByRole('button', { name: 'Closer' }).click();
      expect(await inked()).not.toBe(before);

      await page.locator('#list .scroller').focus();
      await page.keyboard.press('Enter');
      await expect.poll(() => last('clips')?.wants.length).toBe(1);
      const play = last('clips')!;
      expect(play.wants[0]).toEqual({ track: 0, fromS: 1, toS: 2.5 });
      await open.post({
        kind: 'clips',
        run: 1,
        request: play.request,
        clips: [{ sampleRate: 48000, fromS: 1, samples: click(4800) }],
        why: null,
      });
      expect(open.complaints).toEqual([]);
    });

    test('answers to an older report are dropped', async () => {
      const page = await show();
      await page.locator('#list [data-hit="1"]').click();
      await expect.poll(() => last('clips')).toBeDefined();
      const asked = last('clips')!;
      await open.post(messageOf(exampleReport(), { run: 2 }));
      await page.waitForSelector('[data-run="2"]');
      await open.post({ kind: 'clips', run: 1, request: asked.request, clips: [], why: 'STALE' });
      expect(await page.locator('body').textContent()).not.toContain('STALE');
    });

    test('progress can be stopped, a fault is said, and both leave the report where it is', async () => {
      const page = await show();
      await open.post({ kind: 'progress', stage: 'hearing', fraction: 0.4 });
      expect(await page.locator('.strip').textContent()).toContain('Listening');
      await page.getByRole('button', { name: 'Stop' }).click();
      await expect.poll(() => kinds().at(-1)).toBe('stop');
      await open.post({ kind: 'progress', stage: null, fraction: 1 });
      expect(await page.locator('.strip').isHidden()).toBe(true);
      await open.post({ kind: 'problem', message: 'close.wav: byte 44: it ends too early; export it again' });
      expect(await page.getByRole('alert').textContent()).toContain('byte 44');
      expect(await page.locator('h1').count()).toBe(1);
    });

    test('what was chosen survives a reload', async () => {
      const page = await show();
      await page.locator('#list [data-hit="4"]').click();
      await page.getByLabel('at their time in the take').check();
      await page.reload();
      await open.post(messageOf(exampleReport(), { run: 7 }));
      await page.waitForSelector('[data-run="7"]');
      expect(await page.locator('.chosen-stroke h4').textContent()).toBe('Gong, 3.40 ms early');
      expect(await page.getByLabel('at their time in the take').isChecked()).toBe(true);
    });

    test('colours follow the theme', async () => {
      const page = await show();
      await page.locator('.panel[data-channel=gong]').scrollIntoViewIfNeeded();
      await page.waitForSelector('.panel[data-channel=gong] svg');
      const dots = () =>
        page
          .locator('.panel[data-channel=gong] canvas')
          .evaluate((canvas: HTMLCanvasElement) => canvas.toDataURL());
      const dark = await dots();
      await open.setTheme('light');
      await expect.poll(dots).not.toBe(dark);
      expect(await page.evaluate(() => getComputedStyle(document.body).backgroundColor)).toBe(
        'rgb(255, 255, 255)',
      );
    });

    test('motion is left out where the person asked for none', async () => {
      const page = await show();
      const moving = () =>
        page.evaluate(() => {
          const ring = document.querySelector('.ring')!;
          return getComputedStyle(ring).transitionDuration;
        });
      await page.emulateMedia({ reducedMotion: 'reduce' });
      expect(await moving()).toBe('0s');
      await page.emulateMedia({ reducedMotion: 'no-preference' });
      expect(await moving()).not.toBe('0s');
    });

    test('every control has a name', async () => {
      const page = await show();
      await page.locator('#list [data-hit="4"]').click();
      const nameless = await page.evaluate(() =>
        [...document.querySelectorAll<HTMLElement>('button, select, input, [tabindex="0"]')]
          .filter((element) => {
            const label = (element as HTMLInputElement).labels?.[0]?.textContent ?? '';
            return `${element.ariaLabel ?? ''}${element.textContent}${label}`.trim() === '';
          })
          .map(({ outerHTML }) => outerHTML),
      );
      expect(nameless).toEqual([]);
    });

    test.each([
      ['no hits at all', { ...exampleReport(), hits: [], groups: [], pins: [], findings: [] }],
      ['nothing but the least', { ...exampleReport(), channels: undefined, barrel: undefined }],
      [
        'hits nobody could place',
        { ...exampleReport(), hits: [hit(null, null, null, { turn: null, step: null, track: null })] },
      ],
    ])('a report with %s is shown', async (_, report: Report) => {
      const page = await show(report);
      expect(await page.locator('h1').count()).toBe(1);
      expect(open.complaints).toEqual([]);
    });

    test.each(hostileWords)('%j stays text wherever it stands', async (word) => {
      const note = { timeS: 1, channel: word, action: 'drop', note: word } as const;
      const page = await show(namedWith(word), { corrections: [note], take: word });
      await page.locator('#list [data-hit]').nth(2).click();
      await open.post({ kind: 'notice', message: word });
      const strange = await page.evaluate(() => ({
        elements: document.querySelectorAll(
          '#page :is(script, img, iframe, a, object, embed, style, link, b)',
        ).length,
        handlers: [...document.querySelectorAll('*')].flatMap((each) =>
          each.getAttributeNames().filter((name) => name.startsWith('on')),
        ),
        refused: (window as unknown as { refused: string[] }).refused,
        control: /[\u0000-\u0009\u000b-\u001f\u007f\u202a-\u202e\u2066-\u2069]/.test(
          document.body.textContent,
        ),
      }));
      expect(strange).toEqual({ elements: 0, handlers: [], refused: [], control: false });
      expect(open.complaints).toEqual([]);
    });
  },
);
