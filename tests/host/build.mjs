// The extension as it is packaged, with the tests inside it.
import { cpSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';
import { stage } from '../../extension/build/stage.mjs';
import { place } from './server.mjs';

export const extension = fileURLToPath(new URL(`../../${place}/extension`, import.meta.url));
/** The extension that keeps folders on no disk. */
export const shelf = join(place, 'shelf');
/** Inside the extension: the editor runs tests where it runs the extension that holds them. */
const tests = join(extension, 'tests');

/** @returns the folder with the built tests */
export async function buildTests() {
  stage(extension);
  mkdirSync(tests, { recursive: true });
  mkdirSync(shelf, { recursive: true });
  cpSync('tests/host/shelf/package.json', join(shelf, 'package.json'));
  cpSync('tests/host/second-extension/checks.mjs', join(tests, 'checks.mjs'));
  const common = { bundle: true, external: ['vscode'], logLevel: 'warning', mainFields: ['module', 'main'] };
  const suiteOf = (file, outfile) =>
    build({
      ...common,
      entryPoints: [`tests/host/suite/${file}`],
      outfile: join(tests, outfile),
      format: 'cjs',
      platform: 'node',
    });
  await Promise.all([
    suiteOf('suite.ts', 'suite.cjs'),
    suiteOf('web.ts', 'web.js'),
    suiteOf('virtual.ts', 'virtual.cjs'),
    build({
      ...common,
      entryPoints: ['tests/host/shelf/main.ts'],
      outfile: join(shelf, 'main.js'),
      format: 'cjs',
    }),
    build({
      ...common,
      entryPoints: ['tests/host/workspace.ts'],
      outfile: join(tests, 'workspace.mjs'),
      format: 'esm',
      platform: 'node',
    }),
  ]);
  return tests;
}
