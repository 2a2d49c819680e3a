// The work sheet from the terminal: written, written anew, and never over a person's own words.
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { expectRefused } from './refused.ts';
import { run } from './run.ts';
import { makeMachine, markers } from './small-machine.ts';

let root: string;
beforeEach(() => {
  root = makeMachine({
    'takes/1/hits.csv': markers({ drum: 3.2 }),
    'takes/1/take.jsonc': '{ "recorded": "2026-01-01" }',
  });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

test('a take is analysed, and the sheet says what to change; a second one replaces the first', async () => {
  const first = await run(['sheet', '.'], { cwd: root });
  expect(first.status, first.err).toBe(0);
  expect(first.out).toMatch(/^work-sheet\.html: Change 1 adjuster/m);
  const file = join(root, 'work-sheet.html');
  const text = readFileSync(file, 'utf8');
  expect(text).toContain('lever-drum: from 5 to 0');
  expect(text).toContain('Low drum in sector');
  const again = await run(['sheet', '.', '--quiet'], { cwd: root });
  expect(again.status, again.err).toBe(0);
  expect(readFileSync(file, 'utf8')).toBe(text);
});

test('a sheet that a person changed is left as it is, in one line', async () => {
  const file = join(root, 'work-sheet.html');
  await run(['sheet', '.'], { cwd: root });
  writeFileSync(
    file,
    readFileSync(file, 'utf8').replace('</main>', '<p>lever seized, ask the smith</p></main>'),
  );
  await expectRefused(
    root,
    ['sheet', '.'],
    /^work-sheet\.html: was written or changed by hand, and a new work sheet would replace it; rename it or put it elsewhere$/m,
  );
});

test('what was mistyped is said in a line', async () => {
  await expectRefused(root, ['sheet'], /no machine was named/);
  await expectRefused(root, ['sheet', '.', 'there'], /one machine at a time, and 2 were named/);
  await expectRefused(root, ['sheet', '.', '--minutes', 'soon'], /--minutes "soon" is no time/);
});
