// The same suite in the desktop editor, which @vscode/test-electron downloads: node tests/host/desktop.mjs.
// Ends with "N passed, N failed, N skipped"; skips with a plain reason where the download is not reachable.
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { downloadAndUnzipVSCode, runTests } from '@vscode/test-electron';
import { buildTests, extension } from './build.mjs';
import { place } from './server.mjs';

process.chdir(new URL('../..', import.meta.url).pathname);

const editor = await downloadAndUnzipVSCode({ cachePath: join(place, 'desktop'), version: 'stable' }).catch(
  (error) => {
    console.log(
      `skipped: tests in the desktop editor, since its download is not reachable (${error.message})`,
    );
    console.log('0 passed, 0 failed, 1 skipped');
    process.exit(0);
  },
);
const tests = await buildTests();
const { makeWorkspace } = await import(pathToFileURL(join(tests, 'workspace.mjs')).href);
const folder = join(process.cwd(), place, 'folder-desktop');
makeWorkspace(folder);
await runTests({
  vscodeExecutablePath: editor,
  extensionDevelopmentPath: [extension, join(process.cwd(), 'tests/host/second-extension')],
  extensionTestsPath: join(tests, 'suite.cjs'),
  launchArgs: [folder, '--disable-workspace-trust', '--user-data-dir', join(place, 'desktop-profile')],
}).catch((error) => console.log(`the editor ended: ${error.message}`));
const results = join(folder, 'results.txt');
const text = existsSync(results)
  ? readFileSync(results, 'utf8')
  : 'not ok no test has ended\npassed 0 failed 1\n';
console.log(text.trim());
const [, passed, failed] = /passed (\d+) failed (\d+)/.exec(text);
console.log(`\n${passed} passed, ${failed} failed, 0 skipped`);
process.exit(Number(failed) > 0 ? 1 : 0);
