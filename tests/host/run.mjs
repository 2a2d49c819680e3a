// Tests in a real VS Code: the suite with Node behind it, the suite in the web extension host, and the screen.
// Ends with "N passed, N failed, N skipped"; skips with a plain reason where the editor or Chromium cannot be had.
import { existsSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { setTimeout as pause } from 'node:timers/promises';
import { buildTests, extension, shelf } from './build.mjs';
import { address, chromium, installServer, newest, place, startBrowser, startServer } from './server.mjs';

process.chdir(new URL('../..', import.meta.url).pathname);
const here = process.cwd();

/** A whole suite may take this long on a busy machine. */
const patienceS = 600;

const skip = (why) => {
  console.log(`skipped: tests in the editor, since ${why}\n0 passed, 0 failed, 1 skipped`);
  process.exit(0);
};
if (!chromium()) skip('no Chromium is installed (Debian: apt-get install chromium)');
const editor = installServer();
if (!editor) skip('the editor’s server could not be installed');

const built = await buildTests();
const { makeWorkspace, addDemo } = await import(pathToFileURL(join(built, 'workspace.mjs')).href);
const { loadTests } = await import('./load.mjs');
const { packagedTest } = await import('./packaged.mjs');
const { screenTests } = await import('./screen.mjs');
const { pageTests } = await import('./page.mjs');
const counts = { passed: 0, failed: 0 };
const wanted = process.argv.slice(2);
const browser = await startBrowser();
try {
  if (wants('node'))
    await withServer({ extensions: ['tests/host/second-extension'] }, (server) =>
      suite(server, 'with Node', 'node', join(built, 'suite.cjs')),
    );
  if (wants('web'))
    // The editor is told to run the extension in the browser although there is a host with Node.
    await withServer(
      { settings: { 'remote.extensionKind': { 'shimwright.shimwright': ['web'] } } },
      (server) => suite(server, 'in the web extension host', 'web', join(built, 'web.js')),
    );
  if (wants('virtual'))
    // Git is to open the folder of the disk too, which is outside the workspace.
    await withServer(
      { extensions: [shelf], settings: { 'git.openRepositoryInParentFolders': 'always' } },
      (server) => suite(server, 'in a folder on no disk', 'virtual', join(built, 'virtual.cjs'), 'shelf:/'),
    );
  if (wants('screen')) {
    await screenTests({ makeWorkspace, count, open, withServer });
    await packagedTest({ browser, editor, makeWorkspace, count });
  }
  if (wanted.includes('newest')) {
    const newer = installServer(newest);
    if (newer) await packagedTest({ browser, editor: newer, makeWorkspace, count });
    else count('the newest server installs', new Error('it cannot be had'));
  }
  if (wanted.includes('load')) await loadTests({ built, count, open, withServer });
  const pictures = wanted.includes('pictures');
  if (wants('page') || pictures)
    await pageTests({ makeWorkspace, addDemo, count, open, withServer, pictures });
} finally {
  await browser.close();
}
console.log(`\n${counts.passed} passed, ${counts.failed} failed, 0 skipped`);
process.exit(counts.failed > 0 ? 1 : 0);

async function withServer(options, work) {
  const server = await startServer(editor, options);
  try {
    await work(server);
  } finally {
    server.stop();
  }
}

function wants(name) {
  return wanted.length === 0 || wanted.includes(name);
}

function count(name, error) {
  console.log(
    error ? `not ok ${name}\n  ${String(error.stack ?? error).replaceAll('\n', '\n  ')}` : `ok ${name}`,
  );
  counts[error ? 'failed' : 'passed']++;
}

/** Opens a folder in the editor with this extension from its sources. */
async function open(server, folder, payload = [], options = {}) {
  const host = `vscode-remote://127.0.0.1:${server.port}`;
  const page = await browser.newPage({ viewport: { width: 1400, height: 900 }, ...options });
  const load = [['extensionDevelopmentPath', `${host}${extension}`], ...payload];
  if (process.env.SHIMWRIGHT_VERBOSE)
    page.on('console', (message) => console.log('  |', message.text().slice(0, 400)));
  await page.goto(address(server.port, folder, load));
  return page;
}

/** @param opened the workspace; the folder on the disk where there is none of another file system */
async function suite(server, title, name, file, opened) {
  console.log(`\n== ${title}`);
  const folder = join(here, place, `folder-${name}`);
  makeWorkspace(folder);
  if (name === 'web') await addDemo(folder);
  const host = `vscode-remote://127.0.0.1:${server.port}`;
  const page = await open(server, opened ?? folder, [['extensionTestsPath', `${host}${file}`]]);
  const results = join(folder, 'results.txt');
  let waited = 0;
  while (!existsSync(results) && waited < patienceS) {
    await pause(500);
    waited += 0.5;
  }
  if (!existsSync(results)) {
    await page.screenshot({ path: join(place, `${name}-stuck.png`) });
    const partial = join(folder, 'results.partial');
    console.log(existsSync(partial) ? readFileSync(partial, 'utf8') : 'no test has ended');
    count(`${title}: no end after ${patienceS} s (see ${place}/${name}-stuck.png)`, new Error('no results'));
  } else {
    await pause(200);
    const text = readFileSync(results, 'utf8');
    console.log(text.trim());
    if (/^not ok/m.test(text)) await page.screenshot({ path: join(place, `${name}-failed.png`) });
    const [, passed, failed] = /passed (\d+) failed (\d+)/.exec(text);
    counts.passed += Number(passed);
    counts.failed += Number(failed);
    const measured = (what, words) => {
      const file = join(folder, `results.${what}`);
      if (existsSync(file)) console.log(`${words}: ${readFileSync(file)} ms`);
    };
    measured('activation-ms', 'activation, loading included');
    measured('longest-pause-ms', 'longest pause of the extension host while analysing');
  }
  await page.close();
  rmSync(folder, { recursive: true, force: true });
}
