// A folder of hundreds of takes in the real editor: how soon it is listed, how long the rest takes, and what opening and
// closing a report leaves behind. Not in the usual run: it writes 1.5 GB and takes some minutes. Times are printed, not judged.
import { readFileSync, readdirSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { build } from 'esbuild';
import { eventually, patienceMs, screenOf } from './hands.mjs';
import { place } from './server.mjs';

const takes = Number(process.env.TAKES ?? 500);
const openings = 60;
const [yes, no] = [() => true, () => false];

export async function loadTests({ built, count, open, withServer }) {
  const folder = join(process.cwd(), place, 'folder-load');
  console.log(`\n== a folder of ${takes} takes`);
  rmSync(folder, { recursive: true, force: true });
  const outfile = join(built, 'many-takes.cjs');
  await build({
    entryPoints: ['tests/rig/many-takes.ts'],
    outfile,
    bundle: true,
    format: 'cjs',
    mainFields: ['module', 'main'],
    platform: 'node',
    logLevel: 'warning',
  });
  createRequire(import.meta.url)(outfile).writeManyTakes(folder, takes);
  await withServer({}, async (server) => {
    const page = await open(server, folder);
    const screen = screenOf(page);
    try {
      await screen.takes();
      const startMs = performance.now();
      await screen.shows(screen.row('one-more'));
      console.log(`listed ${(performance.now() - startMs).toFixed(0)} ms after the view was opened`);
      const newest = screen.row(`take-${takes - 1}`);
      await eventually(async () => /tolerance|not decided/.test(await newest.innerText()));
      const known = page.locator('.monaco-list-row', { hasText: 'reading its report' });
      await eventually(async () => (await known.count()) === 0);
      console.log(`and said how they stand after ${(performance.now() - startMs).toFixed(0)} ms`);
      count('4 a folder of hundreds of takes is listed, and says how each stands');

      const host = newestHost();
      const sizes = [];
      for (let i = 0; i < openings; i++) {
        await newest.click();
        let clickedMs = performance.now();
        // While the view is being shown anew the editor takes no click.
        const tab = page.locator('.tab.active', { hasText: 'Report' });
        while (!(await tab.waitFor({ timeout: 3000 }).then(yes, no))) {
          await newest.click();
          clickedMs = performance.now();
        }
        await screen.report.locator('h1').waitFor({ timeout: patienceMs });
        if (i === 0)
          console.log(
            `the first report stood ${(performance.now() - clickedMs).toFixed(0)} ms after a click`,
          );
        await page.locator('.tab.active .action-label.codicon-close').first().click();
        await page.locator('iframe.webview.ready').waitFor({ state: 'detached', timeout: patienceMs });
        sizes.push(residentMb(host));
      }
      // What is left to collect comes and goes; the least is what is held.
      const third = openings / 3;
      const [first, last] = [sizes.slice(0, third), sizes.slice(-third)].map((some) => Math.min(...some));
      console.log(
        `the extension host held ${first.toFixed(0)} MB at least over the first ${third} openings, ${last.toFixed(0)} MB over the last`,
      );
      // Were a report held on to each time, its rows alone would be 5 MB.
      if (last - first > 5 * third) throw new Error(`it grew: ${sizes.map(Math.round).join(', ')}`);
      count(`4 after ${openings} openings the memory is given back`);
    } catch (error) {
      await page.screenshot({ path: join(place, 'load-failed.png') });
      count('4 a folder of hundreds of takes', error);
    }
    await page.close();
  });
  rmSync(folder, { recursive: true, force: true });
}

/** Process of the extension host started last (Linux). */
function newestHost() {
  const hosts = readdirSync('/proc').filter((name) => {
    if (!/^\d+$/.test(name)) return false;
    try {
      return readFileSync(`/proc/${name}/cmdline`, 'utf8').includes('--type=extensionHost');
    } catch {
      return false; // it has ended
    }
  });
  return Math.max(...hosts.map(Number));
}

function residentMb(process) {
  return Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${process}/status`, 'utf8'))[1]) / 1024;
}
