// A run killed at any moment: each file stays old or new, whole.
import { spawn } from 'node:child_process';
import { existsSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { parseReport } from '../../analysis/report/parse.ts';
import { seededRandom } from '../../samples/random.ts';
import { cli, run } from './run.ts';
import { machineText, makeMachine, markers, put } from './small-machine.ts';

/** More in a longer run: KILLS=200. */
const kills = Number(process.env.KILLS ?? 12);
const seed = Number(process.env.SEED ?? 20261125);

let root: string;
beforeEach(() => {
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }) });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

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
