// What a tired person gets wrong, and what files get wrong: one clear line each, and nothing is written.
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { expectRefused } from './refused.ts';
import { run } from './run.ts';
import { machineText, makeMachine, markers, put } from './small-machine.ts';

let root: string;
beforeEach(() => {
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }) });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const faults: readonly (readonly [
  what: string,
  files: Record<string, string>,
  args: string[],
  line: RegExp,
])[] = [
  ['no take named', {}, ['analyze'], /no take was named/],
  ['a wrong path', {}, ['analyze', 'takes/mai'], /^takes\/mai: is not there; check the path\n$/],
  ['the machine’s folder', {}, ['analyze', '.'], /^\.: is the machine’s folder.*takes\/may/],
  ['the folder of takes', {}, ['analyze', 'takes'], /^takes: .*takes\/may/],
  ['a count of threads that is none', {}, ['analyze', 'takes/may', '--workers', '0'], /--workers 0/],
  ['an empty take', { 'takes/june/take.jsonc': '{}' }, ['analyze', 'takes/june'], /june.*put the recording/],
  ['an empty marker file', { 'takes/june/a.csv': '' }, ['analyze', 'takes/june'], /a\.csv/],
  [
    'markers that are a header alone',
    { 'takes/june/a.csv': 'time,label\n' },
    ['analyze', 'takes/june'],
    /^takes\/june: .*the marker files hold no markers/,
  ],
  [
    'a fault in machine.jsonc',
    { 'machine.jsonc': '{ "name": 3 }' },
    ['analyze', 'takes/may'],
    /^machine\.jsonc: 1:\d+/,
  ],
  [
    'a broken take.jsonc',
    { 'takes/may/take.jsonc': '{ "tempo": ' },
    ['analyze', 'takes/may'],
    /take\.jsonc: 1:/,
  ],
  [
    'a pattern that is not there',
    { 'machine.jsonc': machineText.replace('"reference"', '"pattern": "pins.csv", "reference"') },
    ['analyze', 'takes/may'],
    /pins\.csv/,
  ],
  [
    'an unknown channel in the pattern',
    { 'pattern.csv': 'step,channel\n0,block\n1,gnog\n' },
    ['analyze', 'takes/may'],
    /^pattern\.csv: line 3/,
  ],
  [
    'a report that is none',
    { 'takes/may/report.json': '{"schema":1}' },
    ['analyze', 'takes/may'],
    /report\.json/,
  ],
  [
    'a report from the future',
    { 'takes/may/report.json': '{"schema":9}' },
    ['analyze', 'takes/may'],
    /schema 9.*restore it from git, or delete it/,
  ],
  [
    'a template that cannot be read',
    { 'templates/report.md.hbs': '{{#if take}}' },
    ['analyze', 'takes/may'],
    /report\.md\.hbs: line 1/,
  ],
  ['a misspelt command', {}, ['anaylze', 'takes/may'], /did you mean shimwright analyze\?/],
  ['an unknown command', {}, ['tune'], /there is no command "tune"/],
  [
    'a misspelt option',
    {},
    ['analyze', 'takes/may', '--jsn'],
    /there is no option --jsn; did you mean --json\?/,
  ],
  ['a value where none belongs', {}, ['analyze', 'takes/may', '--json=yes'], /--json takes no value/],
  ['nothing at all', {}, [], /no command was given/],
];

test.each(faults)(
  '%s: exit 2, exactly one line, nothing on standard output, nothing written',
  async (_, files, args, line) => {
    put(root, files);
    await expectRefused(root, args, line);
  },
);

test('no machine.jsonc: the line says so', async () => {
  rmSync(join(root, 'machine.jsonc'));
  const { status, err } = await run(['analyze', 'takes/may'], { cwd: root });
  expect([status, err]).toEqual([2, expect.stringMatching(/^takes\/may: no machine\.jsonc .*\n$/)]);
});

test('names with control characters cannot move the terminal’s cursor', async () => {
  const { err } = await run(['analyze', 'takes/\x1b[2J\nmay'], { cwd: root });
  expect(err).toBe('takes/\\u001b[2J\\nmay: is not there; check the path\n');
});
