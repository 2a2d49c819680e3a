// What someone changes while the tool is at work: it is not overwritten, and a report never claims to have seen it.
import { appendFileSync, existsSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { noAdvice } from '../../analysis/report/report.ts';
import { applyWork } from '../../extension/cli/apply.ts';
import { locate, readMachineFolder } from '../../extension/files/machine-folder.ts';
import { ChangedOnDisk } from '../../extension/files/write.ts';
import { analyseTake } from '../../extension/files/take-analysis.ts';
import { machineText, makeMachine, markers } from '../cli/small-machine.ts';

let root: string;
beforeEach(() => {
  root = makeMachine({ 'takes/may/hits.csv': markers() });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

test('a recording that grows while it is analysed: nothing is written, and the line says why', async () => {
  const machine = await readMachineFolder(root, root);
  const { take } = await locate(join(root, 'takes/may'));
  let grown = false;
  const run = {
    progress: () => {
      if (!grown) appendFileSync(join(root, 'takes/may/hits.csv'), '99.5,block\n');
      grown = true;
    },
  };
  await expect(analyseTake(machine, take!, () => Promise.resolve([]), run)).rejects.toThrow(
    /its files changed while they were being analysed/,
  );
  expect(readdirSync(join(root, 'takes/may'))).toEqual(['hits.csv']);
  expect(existsSync(join(root, 'CALIBRATION.md'))).toBe(false);
});

test('a changelog in which someone writes meanwhile has both: their lines and the entry', async () => {
  const machine = await readMachineFolder(root, root);
  const { take } = await locate(join(root, 'takes/may'));
  const run = { progress: () => appendFileSync(join(root, 'CALIBRATION.md'), 'greased\n') };
  await analyseTake(machine, take!, () => Promise.resolve([]), run);
  const log = readFileSync(join(root, 'CALIBRATION.md'), 'utf8');
  expect(log).toContain('greased\n');
  expect(log).toContain('may');
});

test('a machine.jsonc that someone changed since the advice was worked out is left as it is, and no entry is made', async () => {
  const machine = await readMachineFolder(root, root);
  appendFileSync(join(root, 'machine.jsonc'), '// theirs\n');
  const work = applyWork(machine, null, noAdvice, { 'joint-AB': 5 }, new AbortController().signal);
  await expect(work).rejects.toThrow(ChangedOnDisk);
  expect(readFileSync(join(root, 'machine.jsonc'), 'utf8')).toBe(`${machineText}// theirs\n`);
  expect(readdirSync(root).sort()).toEqual(['machine.jsonc', 'pattern.csv', 'takes']);
});
