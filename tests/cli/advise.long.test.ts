// Runs the built command many times; on a busy computer that takes a minute.
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { adviceSchema, type Advice } from '../../analysis/results/results.ts';
import { expectRefused } from './refused.ts';
import { run } from './run.ts';
import { machineText, makeMachine, markers, put, tree } from './small-machine.ts';

let root: string;
beforeEach(() => {
  // Drum 3.2 ms late, sector B 1.3 ms: five shims of 0.637 ms out of the lever, two out of the joint.
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }) });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const read = (name: string) => readFileSync(join(root, name), 'utf8');
const advice = (out: string): Advice => adviceSchema.parse(JSON.parse(out));

test('--json prints the advice and nothing else, with what a unit of each adjuster does', async () => {
  const { status, out, err } = await run(['advise', root, '--json']);
  expect([status, err]).toEqual([0, '']);
  const { settings, effects } = advice(out);
  expect(settings.find(({ adjuster }) => adjuster === 'lever-drum')).toMatchObject({ installed: 5 });
  // One shim: 1000·0.1·2/(π·100) ms.
  expect(effects?.find(({ adjuster }) => adjuster === 'lever-drum')?.msPerUnit).toBeCloseTo(0.6366, 3);
  expect(effects?.every(({ from }) => from === 'geometry')).toBe(true);
});

test('a folder, its machine.jsonc and the current folder are the same machine', async () => {
  const outs = [];
  for (const [path, cwd] of [
    [root, '/'],
    [join(root, 'machine.jsonc'), '/'],
    ['.', root],
  ])
    outs.push(advice((await run(['advise', path, '--json'], { cwd })).out).settings);
  expect(outs[0].length).toBeGreaterThan(0);
  expect(outs.slice(1)).toEqual([outs[0], outs[0]]);
});

test('where it sends hands into the machine, the warning stands before the work', async () => {
  const { out } = await run(['advise', root]);
  const words = out.replace(/\s+/g, ' ');
  for (const word of [
    'stop the drive',
    'isolate it and lock it out',
    'moving and raised parts come to rest',
    'licensed electricians',
  ])
    expect(words).toContain(word);
  expect(words.indexOf('stop the drive')).toBeLessThan(words.indexOf('lever-drum'));
  expect(Math.max(...out.split('\n').map((line) => line.length))).toBeLessThanOrEqual(100);
});

test('of several takes, the line about a file that cannot be used says whose it is', async () => {
  put(root, { 'takes/june/hits.csv': '', 'takes/june/take.jsonc': '{ "recorded": "2026-06-01" }' });
  const { status, out, err } = await run(['advise', '.'], { cwd: root });
  expect([status, out]).toEqual([2, '']);
  expect(err).toMatch(/^takes\/june\/hits\.csv: the file is empty; [^\n]+\n$/);
  put(root, { 'takes/june/hits.csv': 'no times here' });
  expect((await run(['analyze', 'takes/june'], { cwd: root })).err).toMatch(/^takes\/june[:/]/);
});

test('the newest take counts, by when it was recorded', async () => {
  put(root, {
    'takes/may/take.jsonc': '{ "recorded": "2026-05-02" }',
    'takes/april/hits.csv': markers({ drum: 5 }),
    'takes/april/take.jsonc': '{ "recorded": "2026-06-01" } // a name may mislead',
  });
  const { predicted } = advice((await run(['advise', root, '--json'])).out);
  const drum = predicted.find(({ channel, sector }) => channel === 'drum' && sector === 'A');
  expect(Math.abs(drum!.beforeMs! - 5)).toBeLessThan(0.15);
});

test('--apply ID=N records what was really fitted, and nothing else', async () => {
  const { status } = await run(['advise', root, '--apply', 'lever-drum=3', 'joint-AB=2']);
  expect(status).toBe(0);
  expect(read('machine.jsonc')).toBe(
    machineText.replace('"installed": 5', '"installed": 3').replace('"installed": 3,', '"installed": 2,'),
  );
  expect(read('CALIBRATION.md')).toMatch(/\| lever-drum \| shim \| 5 \| 3 \|/);
});

test('the pairs may stand before the machine, and one alone is enough', async () => {
  const { status } = await run(['advise', '--apply', 'joint-AB=0', '.'], { cwd: root });
  expect(status).toBe(0);
  expect(read('machine.jsonc')).toBe(machineText.replace('"installed": 3', '"installed": 0'));
});

test('a take that was recorded before the work keeps the settings of its day, even if nobody analysed it', async () => {
  await run(['advise', root, '--apply', 'lever-drum=3']);
  expect((JSON.parse(read('takes/may/report.json')) as { settings: object }).settings).toEqual({
    'joint-AB': 3,
    'lever-drum': 5,
  });
});

test('a machine.jsonc with Windows line ends and a byte order mark keeps both', async () => {
  const text = `\uFEFF${machineText.replaceAll('\n', '\r\n')}`;
  put(root, { 'machine.jsonc': text });
  expect((await run(['advise', root, '--apply', 'joint-AB=4'])).status).toBe(0);
  expect(read('machine.jsonc')).toBe(text.replace('"installed": 3', '"installed": 4'));
});

test('after --apply with nothing to propose, nothing is written', async () => {
  put(root, { 'takes/may/hits.csv': markers() });
  await run(['advise', root]);
  const before = tree(root);
  const { status, out } = await run(['advise', root, '--apply']);
  expect([status, out]).toEqual([0, expect.stringMatching(/^Nothing to record/)]);
  expect(tree(root)).toEqual(before);
});

const faults: readonly (readonly [what: string, args: string[], line: RegExp])[] = [
  ['no machine', ['advise'], /no machine was named/],
  ['a take instead of the machine', ['advise', 'takes/may'], /is inside a take.*shimwright advise/],
  [
    'an unknown adjuster',
    ['advise', '.', '--apply', 'lever-drumm=3'],
    /there is no adjuster "lever-drumm"; write "lever-drum"/,
  ],
  ['above its max', ['advise', '.', '--apply', 'joint-AB=9'], /joint-AB=9: 9 is outside 0 to 8/],
  ['below its min', ['advise', '.', '--apply', 'joint-AB=-1'], /-1 is outside 0 to 8/],
  ['no whole number', ['advise', '.', '--apply', 'joint-AB=2.5'], /"2\.5" is no whole number of shim/],
  ['no number', ['advise', '.', '--apply', 'joint-AB='], /"" is no whole number/],
  ['twice', ['advise', '.', '--apply', 'joint-AB=2', 'joint-AB=3'], /given twice/],
  ['settings without --apply', ['advise', '.', 'joint-AB=2'], /add --apply/],
  [
    'no number',
    ['advise', '.', '--apply', 'joint-AB'],
    /"joint-AB" is no setting: .* missing; .*joint-AB=N$/m,
  ],
  ['a space', ['advise', '.', '--apply', 'joint-AB', '4'], /"joint-AB" is no setting.*--apply joint-AB=4$/m],
  ['applied to two machines', ['advise', '.', 'takes', '--apply'], /one machine at a time/],
  ['two machines', ['advise', '.', 'takes'], /one machine at a time/],
];

test.each(faults)('%s: exit 2, one line, nothing written', (_, args, line) =>
  expectRefused(root, args, line),
);

test('a machine without takes has no advice, but what was fitted can be recorded', async () => {
  rmSync(join(root, 'takes'), { recursive: true });
  expect(await run(['advise', '.'], { cwd: root })).toMatchObject({
    status: 2,
    err: '.: has no takes to go by; record one into takes/NAME (see "Record a take" in the README)\n',
  });
  expect((await run(['advise', '.', '--apply', 'joint-AB=4'], { cwd: root })).status).toBe(0);
  expect(read('machine.jsonc')).toBe(machineText.replace('"installed": 3', '"installed": 4'));
});
