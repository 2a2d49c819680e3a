// How reports stand to what they were made from, after clones, without recordings, and with others in their place.
import { createHash } from 'node:crypto';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, realpathSync, rmSync, utimesSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, expect, test } from 'vitest';
import { savedVoiceText } from '../../analysis/hits/learn/saved-voice.ts';
import { parseReport } from '../../analysis/report/parse.ts';
import { stringifyReport } from '../../analysis/report/report.ts';
import { freshnessWords } from '../../analysis/report/freshness.ts';
import type { EarlierReport } from '../../analysis/results/results.ts';
import { judgeTakes } from '../../extension/files/freshness.ts';
import { listTakes, readMachineFolder } from '../../extension/files/machine-folder.ts';
import { analyseTake } from '../../extension/files/take-analysis.ts';
import { seededRandom } from '../../samples/random.ts';
import { writeWav } from '../../samples/wav.ts';
import {
  drumVoice,
  machineText,
  makeMachine,
  markers,
  patternText,
  put,
  tree,
} from '../cli/small-machine.ts';

const folders: string[] = [];
afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true, force: true });
});

function machineWith(files: Parameters<typeof put>[1]): string {
  const root = makeMachine();
  folders.push(root);
  put(root, files);
  return root;
}

async function analyseAll(root: string) {
  const reports: EarlierReport[] = [];
  for (const take of await listTakes(root, root)) {
    const before = [...reports];
    reports.push(
      await analyseTake(await readMachineFolder(root, root), take, () => Promise.resolve(before), {}),
    );
  }
  return reports;
}

const standing = async (root: string) =>
  judgeTakes(await readMachineFolder(root, root), await listTakes(root, root));

/** Of the one take, or the first. */
const first = async (root: string) => (await standing(root))[0];

/** The same folder elsewhere; by the times of its files every report is the oldest, as a checkout may leave it. */
function cloned(root: string, without: RegExp = /^$/): string {
  const folder = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-clone-')));
  folders.push(folder);
  cpSync(root, folder, {
    recursive: true,
    filter: (from) => !without.test(from) && !from.endsWith('.shimwright'),
  });
  for (const name of Object.keys(tree(folder))) {
    const timeS = name.endsWith('report.json') ? 1000 : 2000;
    utimesSync(join(folder, name), timeS, timeS);
  }
  return folder;
}

/** Two tracks of noise, 3 MB. */
function noise(seed: number): Uint8Array {
  const random = seededRandom(seed);
  const track = () => Float32Array.from({ length: 750_000 }, () => 0.1 * random.normal());
  return writeWav(44_100, [track(), track()]);
}

/**
 * A take that was heard from close.wav. Hearing takes long and is not what is asked here: its markers are analysed, and
 * the recording is put into the report as an analysis would, with the digest as Node's own crypto has it.
 */
async function machineHeard(): Promise<string> {
  const root = machineWith({ 'takes/may/hits.csv': markers({ drum: 3.2 }) });
  await analyseAll(root);
  const bytes = noise(1);
  const file = join(root, 'takes/may/report.json');
  const report = parseReport(file, readFileSync(file, 'utf8'));
  const sha256 = createHash('sha256').update(bytes).digest('hex');
  report.inputs!.files.unshift({ file: 'close.wav', sizeBytes: bytes.length, sha256, kind: 'audio' });
  report.tracks.push({ file: 'close.wav', track: 0, sampleRate: 44_100, noiseDb: null });
  put(root, { 'takes/may/close.wav': bytes, 'takes/may/report.json': stringifyReport(report) });
  return root;
}

test('contents decide: after a clone, whatever the times and line ends, every report is current', async () => {
  const root = machineWith({
    'takes/may/hits.csv': markers({ drum: 3.2 }),
    'takes/june/hits.csv': markers({ drum: 3.1 }, 2),
    'takes/june/take.jsonc': '{\n  "recorded": "2026-06-01"\n}\n',
    'takes/june/corrections.csv': 'time,channel,action,note\n0.5,block,drop,\n',
    'voices/drum.json': savedVoiceText(drumVoice),
  });
  await analyseAll(root);
  for (const folder of [root, cloned(root)]) {
    expect((await standing(folder)).map(({ freshness }) => freshness)).toEqual([
      { state: 'current', missing: [] },
      { state: 'current', missing: [] },
    ]);
    for (const name of Object.keys(tree(folder)))
      if (/jsonc$|csv$|voices/.test(name))
        put(folder, { [name]: readFileSync(join(folder, name), 'utf8').replaceAll('\n', '\r\n') });
    expect((await standing(folder)).map(({ freshness }) => freshness?.state)).toEqual(['current', 'current']);
  }
});

test('whatever an analysis reads, and only that, makes a report stale, and is named', async () => {
  const root = machineWith({
    'takes/may/hits.csv': markers({ drum: 3.2 }),
    'takes/may/take.jsonc': '{ "recorded": "2026-05-02" }',
    'voices/drum.json': savedVoiceText(drumVoice),
  });
  await analyseAll(root);
  const whole = cloned(root);
  const changed: readonly (readonly [name: string, text: string | null, by?: string])[] = [
    ['takes/may/hits.csv', `${markers({ drum: 3.2 })}17.5,note\n`],
    ['takes/may/more.csv', markers({}, 3)],
    ['takes/may/take.jsonc', '{ "recorded": "2026-05-03" }'],
    ['takes/may/take.jsonc', null],
    ['takes/may/corrections.csv', 'time,channel,action,note\n'],
    ['pattern.csv', `${patternText}11,bell\n`],
    ['voices/drum.json', savedVoiceText({ ...drumVoice, strikes: 9 })],
    ['voices/drum.json', null],
    ['machine.jsonc', machineText.replace('"toleranceMs": 1', '"toleranceMs": 1.5')],
    ['machine.jsonc', machineText.replace('"onBarrel": false', '"onBarrel": false, "microphoneMm": 400')],
    ['machine.jsonc', machineText.replace('"reference"', '"onset": "perceived", "reference"')],
  ];
  for (const [name, text] of changed) {
    const folder = cloned(whole);
    if (text === null) rmSync(join(folder, name));
    else put(folder, { [name]: text });
    expect((await first(folder)).freshness, name).toMatchObject({
      state: 'stale',
      changed: name.replace('takes/may/', ''),
    });
  }
  const same: readonly (readonly [name: string, text: string])[] = [
    ['machine.jsonc', machineText.replace('"installed": 3', '"installed": 4')],
    ['machine.jsonc', `// another remark\n${machineText}`],
    ['pattern.csv', patternText.replace('step,channel', 'step , channel')],
    ['takes/may/notes.md', 'the room was cold'],
    ['takes/may/photo.jpg', 'no picture'],
    ['CALIBRATION.md', 'a log'],
  ];
  for (const [name, text] of same) {
    const folder = cloned(whole);
    put(folder, { [name]: text });
    expect((await first(folder)).freshness, name).toEqual({ state: 'current', missing: [] });
  }
});

test('without its recording a report is used and said to be, changed or not; of other sectors it is left out', async () => {
  const root = await machineHeard();
  const folder = cloned(root, /\.wav$/);
  const words = async () => freshnessWords((await first(folder)).freshness!, 'analyse it');
  expect((await first(folder)).freshness).toEqual({ state: 'current', missing: ['close.wav'] });
  expect(await words()).toBe('its recording (close.wav) is not here; its report is used');
  for (const [name, text] of [
    ['voices/drum.json', savedVoiceText(drumVoice)],
    ['pattern.csv', `${patternText}11,bell\n`],
  ]) {
    put(folder, { [name]: text });
    expect((await first(folder)).freshness).toEqual({ state: 'kept', missing: ['close.wav'], changed: name });
    expect(await words()).toMatch(
      /close\.wav\) is not here, so its report is used though .* has changed since/,
    );
  }
  put(folder, { 'machine.jsonc': machineText.replace('"from": 8', '"from": 7') });
  expect((await first(folder)).freshness?.state).toBe('foreign');
  // A recording under another name is there to be heard.
  put(folder, { 'takes/may/far.wav': noise(2) });
  expect((await first(folder)).freshness).toMatchObject({ state: 'stale' });
});

test('a take of markers alone, without its markers, is used as well', async () => {
  const root = machineWith({ 'takes/may/hits.csv': markers({ drum: 3.2 }) });
  await analyseAll(root);
  const folder = cloned(root, /hits\.csv$/);
  expect((await first(folder)).freshness).toEqual({ state: 'current', missing: ['hits.csv'] });
});

test('a large recording is read once; another of its size, name and time is noticed', async () => {
  const root = await machineHeard();
  const wav = join(root, 'takes/may/close.wav');
  const old = new Date(Date.now() - 3_600_000);
  utimesSync(wav, old, old);
  expect((await first(root)).freshness).toEqual({ state: 'current', missing: [] });
  // A file that was just changed may change again within the same tick: only a settled one's digest is kept.
  await pause(2600);
  expect((await first(root)).freshness?.state).toBe('current');
  const cache = join(root, '.shimwright/digests.json');
  const kept = JSON.parse(readFileSync(cache, 'utf8')) as Record<string, [string, string]>;
  expect(Object.keys(kept)).toEqual(['takes/may/close.wav']);
  expect(readFileSync(join(root, '.shimwright/.gitignore'), 'utf8')).toBe('*\n');
  // It is taken from there: a wrong digest under the right times is believed, as one under other times is not.
  const [stamp, sha256] = kept['takes/may/close.wav'];
  put(root, {
    '.shimwright/digests.json': JSON.stringify({ 'takes/may/close.wav': [stamp, '0'.repeat(64)] }),
  });
  expect((await first(root)).freshness).toMatchObject({ state: 'stale', changed: 'close.wav' });
  put(root, {
    '.shimwright/digests.json': JSON.stringify({ 'takes/may/close.wav': ['1 2 3', '0'.repeat(64)] }),
  });
  expect((await first(root)).freshness?.state).toBe('current');
  put(root, { '.shimwright/digests.json': JSON.stringify({ 'takes/may/close.wav': [stamp, sha256] }) });
  put(root, { 'takes/may/close.wav': noise(2) });
  utimesSync(wav, old, old);
  expect((await first(root)).freshness).toEqual({ state: 'stale', changed: 'close.wav', replaced: true });
});

test('another recording under the same name is told as one and takes the settings of now', async () => {
  const root = machineWith({ 'takes/may/hits.csv': markers({ drum: 3.2 }) });
  await analyseAll(root);
  put(root, {
    'machine.jsonc': machineText.replace('"installed": 5', '"installed": 0'),
    'takes/may/hits.csv': markers({ drum: 0.1 }, 7),
  });
  const { freshness } = await first(root);
  expect(freshness).toEqual({ state: 'stale', changed: 'hits.csv', replaced: true });
  expect(freshnessWords(freshness!, 'analyse it')).toMatch(/it holds another recording than its report/);
  const [report] = await analyseAll(root);
  expect(report.settings).toMatchObject({ 'lever-drum': 0 });
  expect(report.findings.find(({ kind }) => kind === 'replaced-recording')?.message).toMatch(
    /another recording .* taken for a new one, with .* \(lever-drum 5 → 0\)/,
  );
  // Heard again it is no other any more; and of a take that only gained a file the settings stay.
  put(root, {
    'machine.jsonc': machineText,
    'takes/may/more.csv': 'time,label\n3.2,a remark\n',
  });
  const [again] = await analyseAll(root);
  expect(again.settings).toMatchObject({ 'lever-drum': 0 });
  expect(again.findings.map(({ kind }) => kind)).not.toContain('replaced-recording');
});

test('a take that cannot be read comes with its fault, and the others as they are', async () => {
  const root = machineWith({ 'takes/may/hits.csv': markers({ drum: 3.2 }) });
  await analyseAll(root);
  mkdirSync(join(root, 'takes/june'));
  for (const text of [new Uint8Array([0xff, 0xfe, 0x20, 0]), new Uint8Array([0x80])]) {
    put(root, { 'takes/june/take.jsonc': text });
    const [june, may] = await standing(root);
    expect(june.fault?.message).toMatch(/june\/take\.jsonc: is /);
    expect(may).toMatchObject({ fault: null, freshness: { state: 'current' } });
  }
});
