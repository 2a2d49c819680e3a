// Writes the whole demo machine, 54 MB of sound: half a minute on a busy computer.
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { listTakes, readMachineFolder } from '../../extension/files/machine-folder.ts';
import { run } from './run.ts';
import { tree } from './small-machine.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'shimwright-demo-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

test('writes a machine that can be read, with its takes in order, into a new folder', async () => {
  const root = join(folder, 'one/two');
  const { status, out, err } = await run(['demo', root]);
  expect([status, err]).toEqual([0, '']);
  expect(out).toContain(`shimwright advise ${root}`);
  const { machine } = await readMachineFolder(root, root);
  expect(machine.description.barrel.sectors.length).toBeGreaterThanOrEqual(6);
  const takes = await listTakes(root, root);
  expect(takes.length).toBeGreaterThanOrEqual(3);
  expect(takes.every(({ recorded }) => recorded !== null)).toBe(true);
});

test('a folder with anything in it is refused and left as it is; so is a file', async () => {
  writeFileSync(join(folder, 'mine.txt'), 'mine');
  const before = tree(folder);
  expect(await run(['demo', folder])).toMatchObject({
    status: 2,
    out: '',
    err: `${folder}: is not empty; name a new folder; nothing of yours is overwritten\n`,
  });
  const onFile = await run(['demo', join(folder, 'mine.txt')]);
  expect(onFile.status).toBe(2);
  expect(onFile.err).toMatch(/^[^\n]+mine\.txt[^\n]+\n$/);
  expect(tree(folder)).toEqual(before);
});

test('stopped half-way, what is there is no machine yet', async () => {
  mkdirSync(join(folder, 'demo'));
  const { start } = await import('./run.ts');
  const { child, ended } = start(['demo', join(folder, 'demo')]);
  while (child.exitCode === null && readdirSync(join(folder, 'demo')).length === 0)
    await new Promise((resolve) => setTimeout(resolve, 10));
  child.kill('SIGINT');
  expect((await ended).status).toBe(130);
  expect(readdirSync(join(folder, 'demo'))).not.toContain('machine.jsonc');
});
