/** DEVELOPERS.md's glossary names code that is there. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const sources = ['analysis', 'extension'].flatMap((folder) =>
  readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .map((name) => readFileSync(join(folder, name), 'utf8')),
);
const exported = new Set(
  sources.flatMap((text) =>
    Array.from(
      text.matchAll(/^export (?:async )?(?:interface|type|class|function|const) (\w+)/gm),
      ([, name]) => name,
    ),
  ),
);
const [, glossary] = readFileSync('DEVELOPERS.md', 'utf8').split('\n## Glossary\n');
const rows = glossary
  .split('\n## ')[0]
  .split('\n')
  .filter((line) => line.startsWith('| '))
  .slice(2)
  .map((line) => line.split('|').map((cell) => cell.trim()));

test('every word has one line that says what it is', () => {
  const words = rows.flatMap(([, word]) => word.split(', '));
  expect(words.length).toBeGreaterThan(30);
  expect(words).toEqual([...new Set(words)]);
  expect(rows.filter(([, , what]) => what === '')).toEqual([]);
});

test('every name of the code is exported under that name', () => {
  const names = rows.flatMap(([, , , code]) => Array.from(code.matchAll(/`(\w+)`/g), ([, name]) => name));
  expect(names.length).toBeGreaterThan(30);
  expect(names.filter((name) => !exported.has(name))).toEqual([]);
});
