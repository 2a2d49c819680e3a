// The README's test command: sets itself up, checks types and style, builds, runs every test and counts them.
// Ends with one line, "N passed, N failed", and says plainly what was skipped and why.
// With --all, as in CI, also what is long and rarely breaks: *.long.test.ts, and the tests in a real editor.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { ensureInstalled } from '../extension/build/ensure-installed.mjs';

process.chdir(new URL('..', import.meta.url).pathname);
ensureInstalled();

const all = process.argv.includes('--all');
let passed = 0;
let failed = 0;

function step(name, args) {
  console.log(`\n== ${name}`);
  const { status } = spawnSync('npx', ['--no-install', ...args], { stdio: 'inherit' });
  if (status === 0) passed++;
  else failed++;
}

step('types', ['tsc', '-p', '.']);
step('lint', ['eslint', '-c', 'tests/eslint.config.js', '.']);
step('layout', ['prettier', '--check', '--log-level', 'warn', '.']);

console.log('\n== build');
if (spawnSync('node', ['extension/build/build.mjs'], { stdio: 'inherit' }).status === 0) passed++;
else failed++;

console.log('\n== tests');
const folder = mkdtempSync(join(tmpdir(), 'shimwright-tests-'));
const results = join(folder, 'results.json');
spawnSync(
  'npx',
  [
    '--no-install',
    'vitest',
    'run',
    '--config',
    'tests/vitest.config.ts',
    '--reporter=default',
    '--reporter=json',
    `--outputFile.json=${results}`,
  ],
  { stdio: 'inherit', env: { ...process.env, ...(all && { LONG: '1' }) } },
);
let skipped = 0;
try {
  const report = JSON.parse(readFileSync(results, 'utf8'));
  passed += report.numPassedTests;
  failed += report.numFailedTests + (report.numFailedTestSuites > 0 && report.numFailedTests === 0 ? 1 : 0);
  skipped = report.numPendingTests + (report.numTodoTests ?? 0);
  const names = report.testResults.flatMap((file) =>
    file.assertionResults
      .filter((test) => test.status === 'skipped' || test.status === 'pending')
      .map((test) => test.fullName),
  );
  if (names.length > 0)
    console.log(
      `\nskipped, each for the reason in its name:\n${names.map((name) => `  ${name}`).join('\n')}`,
    );
} catch (error) {
  console.error(`the test runner left no results: ${error.message}`);
  failed++;
}
rmSync(folder, { recursive: true, force: true });
// In a real editor: what these scripts print last are their own counts.
for (const script of all ? ['tests/host/run.mjs', 'tests/host/desktop.mjs'] : []) {
  console.log(`\n== ${script}`);
  const { stdout } = spawnSync('node', [script], {
    encoding: 'utf8',
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  process.stdout.write(stdout);
  const counted = /(\d+) passed, (\d+) failed, (\d+) skipped\s*$/.exec(stdout);
  passed += Number(counted?.[1] ?? 0);
  failed += Number(counted?.[2] ?? 1);
  skipped += Number(counted?.[3] ?? 0);
}
if (!all)
  console.log('\nnot run: the long tests and those in a real editor; npm test -- --all runs them too');
console.log(`\n${passed} passed, ${failed} failed${skipped > 0 ? `, ${skipped} skipped` : ''}`);
process.exit(failed > 0 ? 1 : 0);
