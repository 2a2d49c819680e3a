// What the computer does to a run: no rights, no room. Each file stays old or new, whole.
import { execFileSync } from 'node:child_process';
import { chmodSync, chownSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { run } from './run.ts';
import { machineText, makeMachine, markers, put, tree } from './small-machine.ts';

const isRoot = process.getuid?.() === 0;
/** "nobody" on Debian and most others; any user that owns nothing would do. */
const nobody = 65_534;

let root: string;
beforeEach(() => {
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }) });
});
afterEach(() => {
  chmodSync(join(root, 'takes/may'), 0o755);
  rmSync(root, { recursive: true, force: true });
});

/** Runs it as a user who owns nothing where the tests run as root, to whom nothing is forbidden. */
function runAsOther(args: string[]) {
  return run(args, { cwd: '/', ...(isRoot ? { uid: nobody, gid: nobody } : {}) });
}

function giveAway(path: string): void {
  if (isRoot) chownSync(path, nobody, nobody);
}

test('a read-only take: one line that names it, nothing written', async () => {
  for (const path of [root, join(root, 'takes')]) giveAway(path);
  chmodSync(root, 0o755);
  chmodSync(join(root, 'takes/may'), 0o555);
  const before = tree(root);
  const { status, out, err } = await runAsOther(['analyze', join(root, 'takes/may')]);
  expect(err).toMatch(/^[^\n]*takes\/may[^\n]*may not be written; change the permissions[^\n]*\n$/);
  expect([status, out]).toEqual([2, '']);
  expect(tree(root)).toEqual(before);
});

test('a read-only machine’s folder: the take’s report is not written either', async () => {
  for (const path of [join(root, 'takes'), join(root, 'takes/may')]) giveAway(path);
  chmodSync(root, 0o555);
  const before = tree(root);
  const { status, err } = await runAsOther(['analyze', join(root, 'takes/may')]);
  chmodSync(root, 0o755);
  expect(err).toMatch(/^[^\n]+may not be written[^\n]*\n$/);
  expect(status).toBe(2);
  expect(tree(root)).toEqual(before);
});

test('a take that may not be read: one line', async () => {
  chmodSync(root, 0o755);
  chmodSync(join(root, 'takes/may/hits.csv'), 0o000);
  for (const path of [root, join(root, 'takes'), join(root, 'takes/may')]) giveAway(path);
  const { status, err } = await runAsOther(['analyze', join(root, 'takes/may')]);
  expect(err).toMatch(/^[^\n]+hits\.csv: may not be read[^\n]*\n$/);
  expect(status).toBe(2);
});

test('machine.jsonc that a person made read-only is not written by --apply', async () => {
  for (const path of [root, join(root, 'takes'), join(root, 'takes/may'), join(root, 'takes/may/hits.csv')])
    giveAway(path);
  giveAway(join(root, 'machine.jsonc'));
  chmodSync(join(root, 'machine.jsonc'), 0o444);
  const { status, err } = await runAsOther(['advise', root, '--apply', 'joint-AB=4']);
  expect(err).toMatch(/^machine\.jsonc: may not be written[^\n]*\n$/);
  expect(status).toBe(2);
  expect(readFileSync(join(root, 'machine.jsonc'), 'utf8')).toBe(machineText);
});

test('a full disk: one line, everything as it was', async (context) => {
  if (!isRoot) return context.skip('needs root to mount a small disk');
  const disk = join(root, 'disk');
  mkdirSync(disk);
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=96k', 'tmpfs', disk], { stdio: 'ignore' });
  } catch {
    return context.skip('this system does not let a small disk be mounted');
  }
  try {
    put(disk, {
      'machine.jsonc': machineText,
      'pattern.csv': readFileSync(join(root, 'pattern.csv')),
      'takes/may/hits.csv': markers({ drum: 3.2 }),
    });
    let room = 0;
    // Fill it but for a few pages: the report does not fit.
    for (; room < 12; room++) put(disk, { [`filler-${room}`]: new Uint8Array(4096) });
    const before = tree(disk);
    const { status, out, err } = await run(['analyze', join(disk, 'takes/may')]);
    expect(err).toMatch(/^[^\n]+the disk is full; free some space[^\n]*\n$/);
    expect([status, out]).toEqual([2, '']);
    expect(tree(disk)).toEqual(before);
  } finally {
    execFileSync('umount', [disk]);
  }
});
