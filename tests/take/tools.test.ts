/** CI installs every Debian package without which some test is skipped. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { packages } from './tools.ts';

test('.ci/run installs what tests ask for', () => {
  const texts = readdirSync('tests', { recursive: true, encoding: 'utf8' })
    .filter((name) => /\.(ts|mjs)$/.test(name))
    .map((name) => readFileSync(join('tests', name), 'utf8'));
  const asked = texts.flatMap((text) =>
    Array.from(text.matchAll(/apt-get install ([a-z][\w-]+)/g), ([, name]) => name),
  );
  expect(asked).toContain('freepats');
  const installed = /apt-get install [^\n]*\\\n([^>]*)>/
    .exec(readFileSync('.ci/run', 'utf8'))?.[1]
    .split(/\s+/);
  expect(installed).toEqual(expect.arrayContaining([...asked, ...Object.values(packages)]));
});
