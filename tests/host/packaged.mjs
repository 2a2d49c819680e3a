// The package as people install it, made anew and driven through the screen alone.
import { execFileSync } from 'node:child_process';
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { counting, screenOf } from './hands.mjs';
import { address, place, startServer } from './server.mjs';

export async function packagedTest({ browser, editor, makeWorkspace, count }) {
  let page;
  const test = counting(count, 'packaged', () => page);
  await test(`8 the package installs into ${editor.release}, lists takes, analyses them and shows a report`, async () => {
    const said = execFileSync('npm', ['run', '--silent', 'package'], { encoding: 'utf8' });
    const [vsix] = /dist\/\S+\.vsix(?=: \d+ files)/.exec(said);
    const folder = join(process.cwd(), place, 'folder-packaged');
    makeWorkspace(folder);
    const server = await startServer(editor, { install: [join(process.cwd(), vsix)] });
    try {
      page = await browser.newPage({ viewport: { width: 1400, height: 900 } });
      await page.goto(address(server.port, folder));
      const { row, asks, picks, shows, takes, report } = screenOf(page);
      await takes();
      await shows(row('not analysed · 2026-04-02'));
      await asks('Shimwright: Analyse All New and Stale Takes');
      await shows(row('out of tolerance · 2026-04-02'));
      await asks('Shimwright: Open Report');
      await picks('2-april');
      await shows(report.getByText('Out of tolerance').first());
      await page.close();
    } finally {
      server.stop();
      rmSync(folder, { recursive: true, force: true });
    }
  });
}
