// Pieces of the drawer from advice to the record: what was built is written down, and what nobody knows is taken out first.
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { readJsonc } from '../../analysis/input/jsonc.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { run } from './run.ts';
import { machineText, makeMachine, markers } from './small-machine.ts';

const withStock = (lever: string, pieces: string) =>
  machineText
    .replace('"reference"', `"stock": [ ${pieces} ], "reference"`)
    .replace('"installed": 5, "min": 0, "max": 9 }', `${lever}, "min": 0, "max": 9 }`);

let root: string;
afterEach(() => rmSync(root, { recursive: true, force: true }));
const machineOf = (text: string, drum: number) => {
  root = makeMachine({
    'machine.jsonc': text,
    'takes/1/hits.csv': markers({ drum }),
    'takes/1/take.jsonc': '{ "recorded": "2026-01-01" }',
  });
};
const stackOf = (id: string) => {
  const text = readFileSync(join(root, 'machine.jsonc'), 'utf8');
  return readJsonc('machine.jsonc', text, machineSchema).value.adjusters.find((each) => each.id === id)!;
};

test('a stack that is built of other pieces than its units is written down with the setting', async () => {
  machineOf(withStock('"installed": 2', '{ "mm": 0.2, "count": 4 }'), -3.2);
  const advised = await run(['advise', '.'], { cwd: root });
  expect(advised.out).toMatch(/put in \d × 0\.2 mm/);
  const applied = await run(['advise', '.', '--apply'], { cwd: root });
  expect(applied.status, applied.err).toBe(0);
  expect(applied.out).toMatch(/The drawer then holds [^.]*0\.2 mm.*: write it under "stock"\./);
  const { installed, stack } = stackOf('lever-drum');
  expect(installed).toBeGreaterThan(2);
  expect(stack).toContain(0.2);
  expect(stack!.reduce((sum, mm) => sum + mm, 0)).toBeCloseTo(0.1 * installed, 9);
  expect(readFileSync(join(root, 'machine.jsonc'), 'utf8')).toContain('// said to be fussy');
});

test('what was fitted otherwise than advised leaves the stack to the person', async () => {
  machineOf(withStock('"installed": 2', '{ "mm": 0.2, "count": 4 }'), -3.2);
  const applied = await run(['advise', '.', '--apply', 'lever-drum=3'], { cwd: root });
  expect(applied.out).toContain('Count what the drawer holds now');
  expect(stackOf('lever-drum')).toMatchObject({ installed: 3 });
  expect(stackOf('lever-drum').stack).toBeUndefined();
});

test('the proposal from a setting that nobody noted is not recorded without numbers', async () => {
  machineOf(machineText.replace('"installed": 5', '"installed": 2'), -3.2);
  const recorded = '{ "recorded": "2026-01-01", "settings": { "joint-AB": 3, "lever-drum": 5 } }';
  writeFileSync(join(root, 'takes/1/take.jsonc'), recorded);
  const before = readFileSync(join(root, 'machine.jsonc'), 'utf8');
  const bare = await run(['advise', '.', '--apply'], { cwd: root });
  expect([bare.status, bare.out]).toEqual([2, '']);
  expect(bare.err.trim().split('\n').at(-1)).toMatch(
    /lever-drum 2 \(take 1 was recorded with 5\): .* --apply lever-drum=N/,
  );
  expect(readFileSync(join(root, 'machine.jsonc'), 'utf8')).toBe(before);
});

test('a stack that does not come to its setting is taken out first, in the terminal and on the sheet', async () => {
  machineOf(withStock('"installed": 6, "stack": [0.2, 0.1]', '{ "mm": 0.1, "count": 9 }'), 1.9);
  const words = /take\s+out\s+all\s+that\s+is\s+there,\s+since\s+its\s+"stack"/i;
  expect((await run(['advise', '.'], { cwd: root })).out).toMatch(words);
  await run(['sheet', '.'], { cwd: root });
  expect(readFileSync(join(root, 'work-sheet.html'), 'utf8')).toMatch(words);
});
