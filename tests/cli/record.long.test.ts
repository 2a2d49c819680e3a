// What stands on record stays true: reports after a clone, without their recordings, beside broken ones. Runs the built command.
import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, utimesSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { adviceSchema, reportSchema } from '../../analysis/results/results.ts';
import { seededRandom } from '../../samples/random.ts';
import { writeWav } from '../../samples/wav.ts';
import { run } from './run.ts';
import { makeMachine, markers, patternText, put, tree } from './small-machine.ts';

let root: string;
const others: string[] = [];
afterEach(() => {
  for (const folder of [root, ...others.splice(0)]) rmSync(folder, { recursive: true, force: true });
});

const read = (name: string, folder = root) => readFileSync(join(folder, name), 'utf8');
const report = (take: string, folder = root) =>
  reportSchema.parse(JSON.parse(read(`takes/${take}/report.json`, folder)));
const settings = (out: string) => adviceSchema.parse(JSON.parse(out)).settings;

/** What markers() writes, as sound: a track to each channel, short bursts of noise that die away. */
function sound(late: Parameters<typeof markers>[0], seed: number): Uint8Array {
  const sampleRate = 44_100;
  const random = seededRandom(seed);
  const strikes = markers(late, seed)
    .trim()
    .split('\n')
    .slice(1)
    .map((row) => row.split(','));
  const length = Math.ceil(17 * sampleRate);
  const tracks = ['block', 'drum', 'bell'].map((channel) => {
    const track = Float32Array.from({ length }, () => 1e-4 * random.normal());
    for (const [time, label] of strikes)
      if (label === channel)
        for (let n = 0, at = Math.round(Number(time) * sampleRate); n < 2000 && at + n < length; n++)
          track[at + n] += 0.5 * Math.exp(-n / 300) * Math.sin(0.05 * n * (2 + channel.length));
    return track;
  });
  return writeWav(sampleRate, tracks);
}

const withSound = () =>
  makeMachine({
    'takes/may/take.jsonc': `{ "recorded": "2026-05-02", "tracks": [
      { "file": "close.wav", "track": 0, "channels": ["block"] },
      { "file": "close.wav", "track": 1, "channels": ["drum"] },
      { "file": "close.wav", "track": 2, "channels": ["bell"] } ] }`,
  });

/** The same folder elsewhere with every time new, as a clone leaves it. */
function cloned(without: RegExp = /^$/): string {
  const folder = mkdtempSync(join(tmpdir(), 'shimwright-clone-'));
  others.push(folder);
  cpSync(root, folder, {
    recursive: true,
    filter: (from) => !without.test(from) && !from.includes('.shimwright'),
  });
  // Reports oldest: by their times everything would be newer.
  for (const name of Object.keys(tree(folder))) {
    const timeS = name.endsWith('report.json') ? 1000 : 2000;
    utimesSync(join(folder, name), timeS, timeS);
  }
  return folder;
}

const isUnchanged = async (folder: string, command: readonly string[]) => {
  const before = tree(folder);
  const outcome = await run([...command], { cwd: folder });
  const after = tree(folder);
  const taken = (files: Record<string, string>) =>
    Object.entries(files).filter(([name]) => /^takes\/|CALIBRATION|machine/.test(name));
  expect(taken(after)).toEqual(taken(before));
  return outcome;
};

test('after a clone, whatever the times, nothing is stale: no command says so and nothing is analysed', async () => {
  root = makeMachine({
    'takes/may/hits.csv': markers({ drum: 3.2 }),
    'takes/june/hits.csv': markers({ drum: 3.1 }, 2),
    'takes/june/take.jsonc': '{ "recorded": "2026-06-01" }',
  });
  await run(['advise', root]);
  expect(report('may').inputs?.files).toMatchObject([{ file: 'hits.csv', kind: 'markers' }]);
  const folder = cloned();
  for (const command of [
    ['advise', '.'],
    ['next', '.'],
    ['history', '.'],
    ['compare', 'takes/may', 'takes/june'],
  ])
    expect(await isUnchanged(folder, command)).toMatchObject({ status: 0, err: '' });
});

test('git itself: a clone of the committed folder is current, with the recordings left out of git', async () => {
  if (spawnSync('git', ['--version']).status !== 0) return void console.warn('skipped: git is not installed');
  root = withSound();
  put(root, { 'takes/may/close.wav': sound({ drum: 3.2 }, 1), '.gitignore': '*.wav\n' });
  const first = settings((await run(['advise', root, '--json'])).out);
  const git = (...args: string[]) => spawnSync('git', args, { cwd: root });
  git('init', '-q');
  git('add', '.');
  git('-c', 'user.name=a', '-c', 'user.email=a@example.org', 'commit', '-q', '-m', 'first');
  const folder = mkdtempSync(join(tmpdir(), 'shimwright-clone-'));
  others.push(folder);
  expect(git('clone', '-q', root, folder).status).toBe(0);
  expect(existsSync(join(folder, 'takes/may/close.wav'))).toBe(false);
  const { status, out, err } = await isUnchanged(folder, ['advise', '.', '--json']);
  expect([status, err]).toEqual([
    0,
    'takes/may: its recording (close.wav) is not here; its report is used\n',
  ]);
  expect(settings(out)).toEqual(first);
  // What changed since cannot be measured there: the report is used, and every command says so.
  put(folder, { 'pattern.csv': `${patternText}11,bell\n` });
  for (const command of [
    ['next', '.'],
    ['compare', 'takes/may', 'takes/may'],
  ]) {
    const { status, err } = await isUnchanged(folder, command);
    expect([status, err]).toEqual([
      0,
      'takes/may: its recording (close.wav) is not here, so its report is used though pattern.csv has changed since; ' +
        'put the recording back and run shimwright analyze takes/may to measure it anew\n',
    ]);
  }
  // Work can be recorded there as well.
  expect((await run(['advise', '.', '--apply'], { cwd: folder })).status).toBe(0);
});

test('a broken take.jsonc of another take is named and left out', async () => {
  root = makeMachine({
    'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }),
    'takes/may/take.jsonc': '{ "recorded": "2026-05-02" }',
  });
  const alone = settings((await run(['advise', root, '--json'])).out);
  const broken: readonly (string | Uint8Array)[] = ['{ "tempo": "fast" }', new Uint8Array([0xff, 0x80])];
  for (const text of broken) {
    put(root, { 'takes/april/hits.csv': markers(), 'takes/april/take.jsonc': text });
    const { status, out, err } = await run(['advise', '.', '--json'], { cwd: root });
    expect(err).toMatch(/^takes\/april\/take\.jsonc: [^\n]+; the take is left out\n$/);
    expect([status, settings(out)]).toEqual([0, alone]);
  }
});
