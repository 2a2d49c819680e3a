/** The way through the work in a real browser: on a phone, a tablet and a desk, by touch and by keys, over a reload. */
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { Advice, Report } from '../../analysis/results/results.ts';
import type { AdviceMessage, ToHost } from '../../extension/protocol/messages.ts';
import { exampleReport, hostileWords } from '../report/example.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';
import { messageOf } from './report-message.ts';
import type { ThemeName } from './themes.ts';

const lever = {
  adjuster: 'lever-gong',
  name: 'the lever below the gong',
  unit: 'shim',
  from: 2,
  to: 1,
  min: 0,
  max: 8,
  what: 'take out 1 × 0.1 mm; the stack is then 1 × 0.1 mm',
  why: 'Gong in sector A: 4.30 ms late now, 0.40 ms late expected',
};
const joint = { ...lever, adjuster: 'joint-AB', name: null, from: 3, to: 5, what: 'add 2 shims' };
const height = {
  ...lever,
  adjuster: 'height-drum',
  name: null,
  from: 0,
  to: -2,
  min: -4,
  what: 'add 2 notches',
};
const openings = [
  { access: 'west cheek', minutes: 10, tasks: [lever, height] },
  { access: null, minutes: null, tasks: [joint] },
];
const advice: Advice = {
  ...exampleReport().advice,
  settings: [lever, height, joint].map(({ adjuster, unit, from, to }) => ({
    adjuster,
    unit,
    installed: from,
    proposed: to,
  })),
};
const record = ['After the work, record 4 whole turns or more, as many as the last take had.'];
const adviceMessage = (run = 1): AdviceMessage => ({ kind: 'advice', run, advice, openings, record });

describe.skipIf(noBrowser !== null)(
  `at the machine${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`,
  () => {
    let house: PageHouse;
    let open: OpenPage;

    beforeAll(async () => {
      house = await PageHouse.open();
    });
    afterAll(() => house.close());
    afterEach(() => open.close());

    async function show(width = 360, theme: ThemeName = 'dark', report: Report = exampleReport()) {
      open = await house.page(theme, undefined, width, width === 360 ? 640 : 900);
      await open.post(messageOf(report));
      await open.page.waitForSelector('[data-run]');
      await open.post(adviceMessage());
      await open.page.getByRole('button', { name: 'Work at the machine' }).click();
      return open.page;
    }
    const press = (name: string | RegExp) =>
      open.page
        .locator('.at-machine')
        .getByRole('button', { name, exact: typeof name === 'string' && name.startsWith('Back') })
        .click();
    const title = () => open.page.locator('.at-machine h1').innerText();
    const accepted = () =>
      open.sent.findLast(
        (message): message is Extract<ToHost, { kind: 'accept' }> => message.kind === 'accept',
      );
    const summary = () => open.page.locator('.at-machine .said li').allInnerTexts();

    /** Every screen once, with what is looked at on each. */
    async function goThrough(look: (screen: string) => Promise<void>): Promise<void> {
      await look('start');
      await press('Begin');
      await look('change');
      await press('Fitted');
      await press('Another number');
      await open.page.locator('.at-machine input').fill('12');
      await press('This is fitted');
      await look('fault');
      await open.page.locator('.at-machine input').fill('-1');
      await press('This is fitted');
      await press('Skip');
      await look('end');
    }

    test.each([
      [360, 'light'],
      [360, 'high-contrast'],
      [800, 'dark'],
      [1400, 'light'],
    ] as const)(
      '%d px wide, %s: safety is first, keys are large, nothing is cut off',
      async (width, theme) => {
        const page = await show(width, theme);
        await goThrough(async (screen) => {
          const found = await page.evaluate(() => ({
            first: document.querySelector('.at-machine')!.firstElementChild!.textContent,
            beyond: document.documentElement.scrollWidth - window.innerWidth,
            small: [...document.querySelectorAll<HTMLElement>('.at-machine :is(button, input)')]
              .map((each) => each.getBoundingClientRect())
              .filter((box) => box.width > 0 && Math.min(box.width, box.height) < 44).length,
            letters: Math.min(
              ...[...document.querySelectorAll('.at-machine :is(p, button, li)')].map((each) =>
                parseFloat(getComputedStyle(each).fontSize),
              ),
            ),
          }));
          expect(found.first).toMatch(/stop the drive, isolate it and lock it out/i);
          expect(found).toMatchObject({ small: 0 });
          expect(found.beyond).toBeLessThanOrEqual(0);
          expect(found.letters).toBeGreaterThanOrEqual(15);
          if (process.env.PICTURES)
            await page.screenshot({
              path: `${process.env.PICTURES}/at-machine-${width}-${theme}-${screen}.png`,
            });
        });
        expect(open.complaints).toEqual([]);
      },
    );

    test('leads through the work in its order, and nothing is sent before the end', async () => {
      const page = await show();
      expect(await page.locator('.at-machine').innerText()).toContain('3 changes at the machine');
      await press('Begin');
      const words = await page.locator('.at-machine').innerText();
      for (const each of ['1 of 3', 'Open west cheek (10 min)', 'from 2 to 1 shim', 'Take out 1 × 0.1 mm'])
        expect(words).toContain(each);
      expect(words).toContain('Gong in sector A: 4.30 ms late now');
      expect(await title()).toBe('lever-gong the lever below the gong');
      await press('Fitted');
      expect(await page.locator('.place-of-work').innerText()).toBe('2 of 3 At west cheek, open already');
      await press('Skip');
      expect(await page.locator('.place-of-work').innerText()).toBe('3 of 3 Nothing has to be opened');
      await press('Another number');
      await page.locator('.at-machine input').fill('4');
      await press('This is fitted');
      expect(await summary()).toEqual([
        'lever-gong 2 → 1 fitted',
        'height-drum: skipped, 0 → −2 stays proposed',
        'joint-AB: 4 instead of 5',
      ]);
      expect(await page.locator('.at-machine').innerText()).not.toContain(record[0]);
      expect(accepted()).toBeUndefined();
      await press('Note this');
      expect(await page.getByRole('button', { name: /^Note this/ }).isDisabled()).toBe(true);
      await expect.poll(accepted).toEqual({
        kind: 'accept',
        run: 1,
        adjusters: ['lever-gong'],
        others: [{ adjuster: 'joint-AB', setting: 4 }],
      });
      await open.post({
        kind: 'noted',
        done: true,
        message: 'Recorded in machine.jsonc and CALIBRATION.md.',
      });
      expect(await page.locator('.at-machine').isVisible()).toBe(false);
      expect(await page.locator('#advice').isVisible()).toBe(true);
      expect(await page.getByText('Recorded in machine.jsonc').count()).toBe(1);
      // What was left for later is asked anew.
      await page.getByRole('button', { name: 'Work at the machine' }).click();
      await press('Begin');
      expect(await page.locator('.at-machine [aria-pressed=true]').count()).toBe(0);
    });

    test('going back is possible, and what was said is shown and can be said anew', async () => {
      const page = await show();
      await press('Begin');
      await press('Fitted');
      await press('Back');
      expect(await page.locator('.at-machine [aria-pressed=true]').innerText()).toContain('Fitted');
      await press('Skip');
      await press('Skip');
      await press('Skip');
      expect(await page.locator('.at-machine').innerText()).toContain('Nothing was fitted');
      expect(await page.getByRole('button', { name: /^Note this/ }).isDisabled()).toBe(true);
      await press(/^lever-gong/);
      await press('Fitted');
      await press('Next');
      await press('Next');
      expect((await summary())[0]).toBe('lever-gong 2 → 1 fitted');
    });

    test('a number that is not allowed is told at the field in one line', async () => {
      const page = await show();
      await press('Begin');
      await press('Another number');
      const field = page.locator('.at-machine input');
      for (const [typed, told] of [
        ['9', '9 is outside 0 to 8; correct the number, or the range of lever-gong in machine.jsonc'],
        ['1.5', '"1.5" is no whole number of shim; write one from 0 to 8, such as 2'],
      ]) {
        await field.fill(typed);
        await press('This is fitted');
        expect(await page.getByRole('alert').innerText()).toBe(told);
        expect(await field.getAttribute('aria-invalid')).toBe('true');
        expect(await title()).toContain('lever-gong');
      }
      await field.fill('8');
      expect(await page.getByRole('alert').count()).toBe(0);
      // The keys beside it stay within what is allowed.
      await press('One more');
      expect(await field.inputValue()).toBe('8');
      await press('One less');
      await press('This is fitted');
      expect(await title()).toBe('height-drum');
    });

    test('by keys alone', async () => {
      const page = await show();
      const tabTo = async (name: string) => {
        for (let i = 0; i < 12; i++) {
          await page.keyboard.press('Tab');
          const now = await page.evaluate(() => document.activeElement?.textContent ?? '');
          if (now === name) return;
        }
        throw new Error(`the keys do not reach ${name}`);
      };
      await tabTo('Begin');
      await page.keyboard.press('Enter');
      expect(await page.evaluate(() => document.activeElement?.tagName)).toBe('H1');
      await tabTo('Another number');
      await page.keyboard.press('Enter');
      await page.keyboard.type('0');
      await page.keyboard.press('Enter');
      await tabTo('Fitted');
      await page.keyboard.press('Enter');
      await tabTo('Skip');
      await page.keyboard.press('Enter');
      expect(await summary()).toEqual([
        'lever-gong: 0 instead of 1',
        'height-drum 0 → −2 fitted',
        'joint-AB: skipped, 3 → 5 stays proposed',
      ]);
    });

    test('what was said and where one stood survive a reload', async () => {
      const page = await show();
      await press('Begin');
      await press('Fitted');
      await page.reload();
      await open.post(messageOf(exampleReport(), { run: 7 }));
      await page.waitForSelector('[data-run="7"]');
      expect(await page.locator('.at-machine').innerText()).toContain('Working out what to change now');
      expect(await page.locator('#advice').isVisible()).toBe(false);
      await open.post(adviceMessage(7));
      expect(await title()).toBe('height-drum');
      await press('Skip');
      await press('Skip');
      expect((await summary())[0]).toBe('lever-gong 2 → 1 fitted');
      await press('Back to the report');
      expect(await page.getByRole('checkbox', { name: 'lever-gong: this is done' }).isChecked()).toBe(true);
    });

    test('where the editor could not write it, nothing that was said is lost', async () => {
      const page = await show();
      await goThrough(() => Promise.resolve());
      const said = await summary();
      await press('Note this');
      await expect.poll(accepted).toBeDefined();
      await open.post({ kind: 'problem', message: 'machine.jsonc: has changes that are not saved' });
      expect(await page.getByRole('alert').first().innerText()).toContain('not saved');
      expect(await summary()).toEqual(said);
      await press('Note this');
      await expect.poll(() => open.sent.filter(({ kind }) => kind === 'accept').length).toBe(2);
    });

    test('another proposal comes up meanwhile: what was said of the old one is told, and not noted', async () => {
      const page = await show();
      await press('Begin');
      await press('Fitted');
      const now = { ...lever, to: 0 };
      await open.post({
        ...adviceMessage(),
        advice: { ...advice, settings: [{ ...advice.settings[0], proposed: 0 }] },
        openings: [{ access: null, minutes: null, tasks: [now] }],
      });
      expect(await page.locator('.lapsed').innerText()).toContain('lever-gong 2 → 1 fitted');
      await press('Begin');
      await press('Skip');
      expect(await page.getByRole('button', { name: /^Note this/ }).isDisabled()).toBe(true);
      expect(await page.locator('.lapsed').innerText()).toContain('lever-gong 2 → 1 fitted');
      await press('Forget these');
      expect(await page.locator('.lapsed').count()).toBe(0);
    });

    test('the editor can ask for it, and where nothing may be noted it says why', async () => {
      open = await house.page('dark', undefined, 800);
      await open.post(messageOf(exampleReport(), { newest: 'third-round' }));
      await open.page.waitForSelector('[data-run]');
      expect(await open.page.getByRole('button', { name: 'Work at the machine' }).count()).toBe(0);
      await open.post({ kind: 'at-machine' });
      expect(await open.page.locator('.at-machine').innerText()).toContain('third-round is newer');
      await press('Back to the report');
      expect(await open.page.locator('#advice').isVisible()).toBe(true);
    });

    test('with all fitted as proposed, it says how long to record then', async () => {
      const page = await show();
      await press('Begin');
      for (let i = 0; i < 3; i++) await press('Fitted');
      expect(await page.locator('.at-machine').innerText()).toContain(record[0]);
    });

    test('what is in doubt is named before anything is changed', async () => {
      const page = await show();
      const doubt = {
        kind: 'no-effect' as const,
        since: null,
        adjusters: ['lever-drum'],
        channels: [],
        sectors: [],
      };
      const doubts = [
        {
          ...doubt,
          size: null,
          sizeCi95: null,
          readings: [],
          test: null,
          message: 'lever-drum did next to nothing',
        },
      ];
      await open.post({ ...adviceMessage(), advice: { ...advice, doubts } });
      await page.locator('.at-machine summary').click();
      expect(await page.locator('.at-machine details').innerText()).toContain(
        'lever-drum did next to nothing',
      );
      expect((await page.locator('.at-machine summary').boundingBox())!.height).toBeGreaterThanOrEqual(44);
    });

    test.each(hostileWords)('%j stays text', async (word) => {
      const page = await show();
      const task = { ...lever, adjuster: word, name: word, what: word || 'x', why: word };
      await open.post({
        ...adviceMessage(),
        advice: { ...advice, settings: [{ adjuster: word, unit: word, installed: 2, proposed: 1 }] },
        openings: [{ access: word, minutes: 1, tasks: [task] }],
      });
      await press('Begin');
      await press('Skip');
      expect(
        await page.locator('#page :is(script, img, iframe, a, object, embed, style, link)').count(),
      ).toBe(0);
      expect(open.complaints).toEqual([]);
    });
  },
);
