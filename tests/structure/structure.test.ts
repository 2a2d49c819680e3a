import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { drawing, productFolders } from './drawing.ts';
import { circlesOf, importsOf, roomImports } from './imports.ts';

test('no two files import each other, directly or through others', () => {
  const imports = importsOf(productFolders);
  expect(imports.size).toBeGreaterThan(400);
  expect(circlesOf(imports)).toEqual([]);
});

test('a circle would be found, through types too', () => {
  const circle: [string, string[]][] = [
    ['a', ['b']],
    ['b', ['c', 'd']],
    ['c', ['a']],
    ['d', []],
  ];
  expect(circlesOf(new Map(circle))).toEqual([['a', 'b', 'c']]);
});

test('rooms that are reached through another have no arrow of their own', () => {
  const imports = new Map([
    ['analysis/report/a.ts', ['analysis/hits/b.ts', 'analysis/numbers/c.ts']],
    ['analysis/hits/b.ts', ['analysis/numbers/c.ts']],
    ['analysis/numbers/c.ts', []],
  ]);
  expect(Object.fromEntries(roomImports(imports))).toEqual({
    'analysis/report': ['analysis/hits'],
    'analysis/hits': ['analysis/numbers'],
    'analysis/numbers': [],
  });
});

test('the drawing in DEVELOPERS.md is what the files import: npm run drawing', () => {
  expect(readFileSync('DEVELOPERS.md', 'utf8')).toContain(drawing());
});
