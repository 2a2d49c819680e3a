// What the computer does to a run: no rights, no room, a kill at any moment. Each file stays old or new, whole.
import { execFileSync, spawn } from 'node:child_process';
import { chmodSync, chownSync, existsSync, mkdirSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { parseReport } from '../../analysis/report/parse.ts';
import { seededRandom } from '../../samples/random.ts';
import { cli, run } from './run.ts';
import { machineText, makeMachine, markers, put, tree } from './small-machine.ts';

const isRoot = process.getuid?.() === 0;
/** "nobody" on Debian and most others; any user that owns nothing would do. */
const nobody = 65_534;
/** More in the long run: KILLS=200. */
const kills = Number(process.env.KILLS ?? 12);
const seed = Number(process.env.SEED ?? 20261125);

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

test(`analyze and --apply killed ${kills} times at random moments (seed ${seed}): each file old or new, whole`, async () => {
  const next = seededRandom(seed);
  const own = '# Log of a person\n\nGreased the bearing.\n';
  put(root, { 'CALIBRATION.md': own });
  // How long a whole run takes here and now, so that the kills fall all over it.
  const began = performance.now();
  await run(['analyze', join(root, 'takes/may')]);
  const wholeMs = performance.now() - began;
  for (let i = 0; i < kills; i++) {
    put(root, { 'takes/may/hits.csv': markers({ drum: 1 + i / 10 }, i) });
    const args =
      i % 2 === 0
        ? ['analyze', join(root, 'takes/may')]
        : ['advise', root, '--apply', `joint-AB=${i % 8}`, `lever-drum=${i % 9}`];
    const child = spawn(process.execPath, [cli, ...args], { stdio: 'ignore' });
    const ended = new Promise((resolve) => child.once('close', resolve));
    // Most of the writing is in the last third.
    await pause(wholeMs * next.between(0.5, 1.1));
    child.kill('SIGKILL');
    await ended;
    const report = readFileSync(join(root, 'takes/may/report.json'), 'utf8');
    expect(parseReport('report.json', report).take).toBe('may');
    expect(readFileSync(join(root, 'takes/may/report.svg'), 'utf8').trimEnd()).toMatch(/<\/svg>$/);
    const log = readFileSync(join(root, 'CALIBRATION.md'), 'utf8');
    expect(log.startsWith(own.slice(0, own.indexOf('\n\n')))).toBe(true);
    expect(log).toContain('Greased the bearing.\n');
    const machine = readFileSync(join(root, 'machine.jsonc'), 'utf8');
    expect(machine.replace(/"installed": \d/g, '"installed": N')).toBe(
      machineText.replace(/"installed": \d/g, '"installed": N'),
    );
  }
  expect((await run(['analyze', join(root, 'takes/may')])).status).toBe(0);
  expect((await run(['advise', root, '--apply', 'joint-AB=1', 'lever-drum=2'])).status).toBe(0);
  const left = [...readdirSync(root), ...readdirSync(join(root, 'takes/may'))];
  expect(left.filter((name) => name.startsWith('.shimwright'))).toEqual([]);
  expect(existsSync(join(root, 'takes/may/report.md'))).toBe(true);
});
