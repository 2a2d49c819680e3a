// From an empty folder to a take, and from a take to a table, as a person does it in the terminal.
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { expectRefused } from './refused.ts';
import { run } from './run.ts';
import { makeMachine, markers, patternText } from './small-machine.ts';

let folder: string;
beforeEach(() => (folder = mkdtempSync(join(tmpdir(), 'shimwright-new-'))));
afterEach(() => rmSync(folder, { recursive: true, force: true }));
const inFolder = (...args: string[]) => run(args, { cwd: folder });

test('a machine is made from a few answers and takes a recording at once', async () => {
  const made = await inFolder(
    'new',
    'mill',
    '--name',
    'Mill Lane',
    '--channels',
    'block, drum,bell',
    '--steps',
    '16',
    '--sectors',
    '2',
  );
  expect(made.status, made.err).toBe(0);
  expect(made.out).toContain('Next: shimwright take mill RECORDING');
  const machine = readFileSync(join(folder, 'mill/machine.jsonc'), 'utf8');
  expect(machine).toContain('"name": "Mill Lane"');
  expect(machine).toContain('{ "id": "B", "from": 8 }');
  writeFileSync(join(folder, 'mill/pattern.csv'), patternText);
  writeFileSync(join(folder, 'hits.csv'), markers({ drum: 3 }));
  const taken = await inFolder('take', 'mill', 'hits.csv', '--name', 'first');
  expect(taken.status, taken.err).toBe(0);
  const analysed = await inFolder('analyze', 'mill/takes/first');
  expect(analysed.status, analysed.err).toBe(0);
  const { status, out } = await inFolder('strokes', 'mill/takes/first');
  expect(status).toBe(0);
  const rows = out.trim().split('\r\n');
  expect(rows[0]).toMatch(/^timeS,channel,turn,step,sector,latenessMs/);
  expect(rows).toHaveLength(1 + markers().trim().split('\n').length - 1);
});

test('before its pins are entered nothing is advised; a draft from the take has them all', async () => {
  await inFolder(
    ...['new', 'mill', '--name', 'Mill Lane', '--channels', 'block,drum,bell'],
    ...['--steps', '16', '--sectors', '2'],
  );
  writeFileSync(join(folder, 'hits.csv'), markers({ drum: 3 }));
  await inFolder('take', 'mill', 'hits.csv', '--name', 'first');
  const early = await inFolder('analyze', 'mill/takes/first');
  expect(early.out).toMatch(/beside the reference’s lie\s+where the pattern has no pin/);
  expect(early.out).toMatch(
    /In doubt: \d\s+groups?, since\s+pattern\s+and\s+take\s+do\s+not\s+agree\s+on\s+most\s+strokes/,
  );
  expect(early.out).not.toMatch(/Change \d|re-seat|strikes twice|not heard|add \d|take out \d/);
  await expectRefused(
    folder,
    ['draft', 'mill/takes/first'],
    /nothing tells its tempo; give "tempo" in take\.jsonc/,
  );
  const drafted = await inFolder('draft', 'mill/takes/first', '--tempo', '118');
  expect(drafted.status, drafted.err).toBe(0);
  expect(drafted.out).toMatch(
    /^mill\/pattern-draft\.csv:\n19 pins in \d\.\d turns: 19 heard in every turn or all but one, 0 doubtful\./,
  );
  const draft = readFileSync(join(folder, 'mill/pattern-draft.csv'), 'utf8');
  const rowsIn = (text: string) =>
    text
      .split('\n')
      .filter((row) => /^\d/.test(row))
      .sort();
  expect(rowsIn(draft)).toEqual(rowsIn(patternText));
  writeFileSync(join(folder, 'mill/pattern.csv'), draft);
  const late = await inFolder('analyze', 'mill/takes/first');
  expect(late.out).toMatch(/drum +A +\+[23]\.\d/);
  // A person's own words in it are kept.
  writeFileSync(join(folder, 'mill/pattern-draft.csv'), `${draft}# my own\n`);
  await expectRefused(
    folder,
    ['draft', 'mill/takes/first', '--tempo', '118'],
    /a new drafted pattern would replace it/,
  );
});

test('nothing of a person’s is overwritten by a new machine', async () => {
  mkdirSync(join(folder, 'old'));
  writeFileSync(join(folder, 'old/pattern.csv'), 'mine');
  await expectRefused(
    folder,
    ['new', 'old', '--name', 'x', '--channels', 'a'],
    /^old: holds a pattern\.csv already; name another folder/m,
  );
  expect(readFileSync(join(folder, 'old/pattern.csv'), 'utf8')).toBe('mine');
  expect(readdirSync(join(folder, 'old'))).toEqual(['pattern.csv']);
});

test('answers that do not fit are said in a line, and nothing is made', async () => {
  await expectRefused(folder, ['new', 'm', '--channels', 'a'], /--name is missing/);
  await expectRefused(
    folder,
    ['new', 'm', '--name', 'x', '--channels', 'a,b,a'],
    /--channels: "a" is there twice/,
  );
  await expectRefused(
    folder,
    ['new', 'm', '--name', 'x', '--channels', 'a b'],
    /--channels: "a b" cannot be used here/,
  );
  await expectRefused(
    folder,
    ['new', 'm', '--name', 'x', '--channels', 'a', '--steps', '4.5'],
    /--steps: "4\.5" does not fit; give a whole number from 2 to 100000/,
  );
  expect(existsSync(join(folder, 'm'))).toBe(false);
});

test('takes are named by the day of their recording, and a second one of a day by a number', async () => {
  const root = makeMachine({});
  try {
    for (const name of ['a.csv', 'b.csv', 'c.csv']) {
      writeFileSync(join(folder, name), markers());
      utimesSync(join(folder, name), new Date(2026, 4, 3, 12), new Date(2026, 4, 3, 12));
    }
    await inFolder('take', root, 'a.csv');
    const second = await inFolder('take', root, 'b.csv');
    expect(second.status, second.err).toBe(0);
    expect(readdirSync(join(root, 'takes')).sort()).toEqual(['2026-05-03', '2026-05-03-2']);
    expect(readFileSync(join(root, 'takes/2026-05-03-2/take.jsonc'), 'utf8')).toContain(
      '"recorded": "2026-05-03T12:00:00"',
    );
    const each = await inFolder('take', root, 'a.csv', 'b.csv', '--each');
    expect(each.status, each.err).toBe(0);
    expect(readdirSync(join(root, 'takes/b')).sort()).toEqual(['b.csv', 'take.jsonc']);
    await expectRefused(
      folder,
      ['take', root, 'a.csv', '--name', 'b'],
      /b: is there already; choose another --name/,
    );
    await expectRefused(folder, ['take', root, 'a.csv', '--name', '../out'], /is no name for a folder/);
    await expectRefused(folder, ['take', root, 'a.csv', 'none.wav'], /^none\.wav: /m);
    await expectRefused(folder, ['take', root, 'c.csv', 'none.wav', '--each'], /^none\.wav: /m);
    expect(readdirSync(join(root, 'takes')).sort()).toEqual(['2026-05-03', '2026-05-03-2', 'a', 'b']);
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
});
