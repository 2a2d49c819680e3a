// What a person does in the editor with keys and pointer, and waits for: shared by the tests on the screen.

import { join } from 'node:path';
import { place } from './server.mjs';

/** Everything waits for something to show; a busy machine takes long. */
export const patienceMs = 90_000;

export function screenOf(page) {
  const shows = (locator) => locator.waitFor({ timeout: patienceMs });
  return {
    shows,
    row: (text) => page.locator('.monaco-list-row', { hasText: text }).first(),
    /** The page inside the newest report's tab. */
    report: page.frameLocator('iframe.webview.ready').frameLocator('#active-frame'),
    /** Opens the view of the takes. */
    async takes() {
      const header = page.locator('.pane-header', { hasText: 'Takes' });
      await shows(header);
      if ((await header.getAttribute('aria-expanded')) === 'false') await header.click();
    },
    async asks(words) {
      await page.keyboard.press('F1');
      const box = page.locator('.quick-input-widget input').first();
      await shows(box);
      await box.fill(`>${words}`);
      await shows(page.locator('.quick-input-list .monaco-list-row', { hasText: words }).first());
      await page.keyboard.press('Enter');
    },
    /** Chooses from the list that a command asks with: unlike a row of the view it is not made anew meanwhile. */
    async picks(words) {
      await page.locator('.quick-input-list .monaco-list-row', { hasText: words }).first().click();
    },
    /** Closes what would stand before a picture. */
    async quiet() {
      for (let i = 0; i < 5 && (await page.locator('.notification-toast').count()) > 0; i++)
        await page.keyboard.press('Escape');
    },
  };
}

/**
 * Runs one test after another, counts each, and keeps a picture of the window where one failed.
 *
 * @param shown the window that is open now, if any
 */
export function counting(count, kind, shown) {
  return async (name, run) => {
    try {
      await run();
      count(name);
    } catch (error) {
      await shown()
        ?.screenshot({ path: join(place, `${kind}-failed-${name.slice(0, 30)}.png`) })
        .catch(() => undefined);
      count(name, error);
    }
  };
}

/** @param withinMs longer where a whole take is heard meanwhile */
export async function eventually(ask, withinMs = patienceMs) {
  for (const endMs = Date.now() + withinMs; ;) {
    try {
      if (await ask()) return;
    } catch {
      // not there yet
    }
    if (Date.now() > endMs) throw new Error(`never came: ${ask}`);
    await new Promise((resolve) => setTimeout(resolve, 250));
  }
}
