// Tests through the screen alone, as a person would use it: what the suite inside the editor cannot see or press.
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { shelf } from './build.mjs';
import { counting, eventually, screenOf } from './hands.mjs';
import { place } from './server.mjs';

export async function screenTests({ makeWorkspace, count, open, withServer }) {
  console.log('\n== on the screen');
  const folder = join(process.cwd(), place, 'folder-screen');
  const test = counting(count, 'screen', () => shown);
  let shown;
  await withServer({}, async (server) => {
    makeWorkspace(folder);
    const page = (shown = await open(server, folder));
    const { row, asks, shows, takes, report } = screenOf(page);
    const picture = (name) => page.screenshot({ path: join(place, `${name}.png`) });

    await test('1 the Explorer lists the takes with date and verdict', async () => {
      await takes();
      await shows(row('2-april'));
      const text = await row('2-april').innerText();
      if (!/not analysed · 2026-04-02/.test(text)) throw new Error(`it says ${text}`);
    });

    await test('2 takes are analysed from the view’s button, with their stages shown and a way to stop', async () => {
      await page.locator('.pane-header', { hasText: 'Takes' }).hover();
      await page.getByRole('button', { name: 'Analyse All New and Stale Takes' }).first().click();
      const toast = page.locator('.notification-toast', { hasText: 'Analysing' }).first();
      await shows(toast);
      await shows(toast.getByText('Cancel'));
      await shows(page.locator('.monaco-list-row', { hasText: 'out of tolerance · 2026-04-02' }).first());
      await picture('takes');
    });

    await test('1 a take’s findings stand below it, and lead to their place', async () => {
      await row('2-april').locator('.monaco-tl-twistie').click();
      const finding = row('was heard at step 7');
      await shows(finding);
      // The editor drops a click on a row that is made anew at that moment.
      const opened = page.locator('.tab.active', { hasText: 'pattern.csv' });
      await eventually(async () => {
        await finding.click({ timeout: 5000 });
        await opened.waitFor({ timeout: 5000 });
        return true;
      });
    });

    await test('2 a fault is one line with a button that opens the file at the place', async () => {
      writeFileSync(join(folder, 'takes/1-march/take.jsonc'), '{\n  "tempo": "fast"\n}\n');
      await shows(page.locator('.monaco-list-row', { hasText: 'stale · 2026-03-01' }).first());
      const toast = page.locator('.notification-toast', { hasText: 'take.jsonc: 2:12 tempo' }).first();
      const which = page.locator('.quick-input-widget input[placeholder*="Which take"]');
      const asked = async () => {
        // A menu takes no click in its first moments; the keyboard it takes at once. A row that is shown anew closes its menu.
        const analyse = page.locator('.context-view .action-label', { hasText: 'Analyse Take' }).first();
        await eventually(async () => {
          await page.keyboard.press('Escape');
          // By its date: findings of the other take name it too.
          await row('2026-03-01').click({ button: 'right', timeout: 5000 });
          await analyse.hover({ timeout: 5000 });
          return true;
        });
        await page.keyboard.press('Enter');
        await shows(toast.or(which).first());
      };
      await asked();
      // A row that is being shown anew at that moment is lost to the editor; the tool then asks.
      for (let i = 0; i < 5 && (await which.isVisible()); i++) {
        await page.keyboard.press('Escape');
        await asked();
      }
      await shows(toast);
      await picture('fault');
      await toast.getByRole('button', { name: 'Open take.jsonc' }).click();
      await shows(page.locator('.tab.active', { hasText: 'take.jsonc' }));
      await shows(page.locator('.statusbar-item', { hasText: 'Ln 2, Col 12' }));
      writeFileSync(join(folder, 'takes/1-march/take.jsonc'), '{ "recorded": "2026-03-01T10:00" }\n');
    });

    await test('4 proposed settings are reviewed, accepted with a word that the work is done, and logged', async () => {
      await asks('Shimwright: Review Proposed Settings');
      await shows(page.locator('.tab.active', { hasText: 'now ↔ proposed' }));
      await shows(page.locator('.editor.modified .line-insert').first());
      await picture('review');
      await page.getByRole('button', { name: 'Note All Proposed Settings as Fitted' }).first().click();
      const dialog = page.locator('.monaco-dialog-box');
      await shows(dialog);
      if (readFileSync(join(folder, 'CALIBRATION.md'), 'utf8').includes('settings fitted'))
        throw new Error('it was written before it was accepted');
      await dialog.getByRole('button', { name: 'The Work Is Done' }).click();
      await eventually(() =>
        readFileSync(join(folder, 'CALIBRATION.md'), 'utf8').includes('settings fitted'),
      );
    });

    await test('4 the pattern is drawn as it lies on the barrel, and anew while a row is typed', async () => {
      await asks('Shimwright: Show the Barrel Unrolled');
      await shows(page.locator('.tab.active', { hasText: 'pattern.csv' }));
      const drawing = report.locator('.barrel svg[role=img]');
      await shows(report.getByText('Each pin as take 2-april found it.'));
      const pins = async () => Number(/(\d+) pins/.exec(await drawing.getAttribute('aria-label'))?.[1]);
      const before = await pins();
      if (!(before > 10)) throw new Error(`it says ${before} pins`);
      await picture('barrel');
      const pattern = join(folder, 'pattern.csv');
      const text = readFileSync(pattern, 'utf8');
      writeFileSync(pattern, `${text}11,bell\n`);
      await eventually(async () => (await pins()) === before + 1);
      writeFileSync(pattern, `${text}11,bel\n`);
      await shows(report.getByText(/pattern\.csv.*bel/).first());
      if ((await pins()) !== before + 1)
        throw new Error('the last drawing is gone while a row is half typed');
      writeFileSync(pattern, text);
      await eventually(async () => (await pins()) === before);
      await page.keyboard.press('Control+F4');
    });

    await test('1 the walkthrough is in the editor’s welcome', async () => {
      await asks('Welcome: Open Walkthrough...');
      await page
        .locator('.quick-input-list .monaco-list-row', { hasText: 'Calibrate a mechanical' })
        .first()
        .click();
      await shows(page.locator('.gettingStartedContainer', { hasText: 'Look at the demo machine' }).first());
      await picture('walkthrough');
    });
    await page.close();
  });
  await withServer({ extensions: [shelf] }, async (server) => {
    makeWorkspace(join(process.cwd(), place, 'folder-virtual'));
    const page = (shown = await open(server, 'shelf:/'));
    const { row, asks, picks, shows, takes } = screenOf(page);
    await test('8 a folder on no disk: its takes are listed and analysed, and what needs git says so', async () => {
      await takes();
      await shows(row('not analysed · 2026-04-02'));
      await asks('Shimwright: Analyse All New and Stale Takes');
      await shows(row('out of tolerance · 2026-04-02'));
      await asks('Shimwright: Compare Report with a Commit');
      await picks('2-april');
      await shows(page.locator('.notification-toast', { hasText: 'no Git repository' }).first());
    });
    await page.close();
  });
}
