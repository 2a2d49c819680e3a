// Runs the built command many times; on a busy computer that takes a minute.
import { existsSync, readFileSync, readdirSync, readlinkSync, rmSync, truncateSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { parseReport } from '../../analysis/report/parse.ts';
import { run, start } from './run.ts';
import { machineText, makeMachine, markers, put } from './small-machine.ts';

let root: string;
beforeEach(() => {
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }) });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const read = (name: string) => readFileSync(join(root, name), 'utf8');

test('writes the report in three forms and the changelog, and prints a table of at most 100 columns', async () => {
  const { status, out, err } = await run(['analyze', join(root, 'takes/may')]);
  expect([status, err]).toEqual([0, '']);
  expect(readdirSync(join(root, 'takes/may')).sort()).toEqual([
    'checks.svg',
    'hits.csv',
    'report.json',
    'report.md',
    'report.svg',
  ]);
  expect(readdirSync(root).sort()).toEqual(['CALIBRATION.md', 'machine.jsonc', 'pattern.csv', 'takes']);
  expect(out).toContain('Low drum');
  expect(Math.max(...out.split('\n').map((line) => line.length))).toBeLessThanOrEqual(100 + root.length);
  expect(read('takes/may/report.md')).toContain('report.svg');
  expect(read('takes/may/report.svg')).toMatch(/^<svg/);
  expect(read('takes/may/report.md')).toContain('](checks.svg)');
  expect(read('takes/may/checks.svg')).toMatch(/^<svg/);
  expect(read('CALIBRATION.md')).toContain('may');
});

test('--json puts the report and nothing else on standard output, and the numbers are right', async () => {
  const { status, out, err } = await run(['analyze', join(root, 'takes/may'), '--json']);
  expect([status, err]).toEqual([0, '']);
  expect(out).toBe(read('takes/may/report.json'));
  const report = parseReport('report.json', out);
  const group = (channel: string, sector: string) =>
    report.groups.find((row) => row.channel === channel && row.sector === sector);
  // 8 turns × 3 pins with 0.1 ms of chance: the mean is good to 4 × 0.1/√24 ms.
  expect(Math.abs(group('drum', 'A')!.meanMs! - 3.2)).toBeLessThan(0.12);
  expect(Math.abs(group('drum', 'B')!.meanMs! - 4.5)).toBeLessThan(0.12);
  expect(Math.abs(group('bell', 'B')!.meanMs! - 1.3)).toBeLessThan(0.12);
  expect(report.settings).toEqual({ 'joint-AB': 3, 'lever-drum': 5 });
});

test('the first analysis freezes the settings: the take keeps its meaning when the machine changes', async () => {
  await run(['analyze', join(root, 'takes/may')]);
  put(root, { 'machine.jsonc': machineText.replace('"installed": 3', '"installed": 6') });
  const { out } = await run(['analyze', join(root, 'takes/may'), '--json']);
  expect(parseReport('report.json', out).settings['joint-AB']).toBe(3);
});

test('analysing again gives the same report to the byte and adds no second entry', async () => {
  await run(['analyze', join(root, 'takes/may')]);
  const before = [read('takes/may/report.json'), read('takes/may/report.svg'), read('CALIBRATION.md')];
  await run(['analyze', join(root, 'takes/may')]);
  expect([read('takes/may/report.json'), read('takes/may/report.svg'), read('CALIBRATION.md')]).toEqual(
    before,
  );
});

test('Ctrl-C: exit 130, nothing said, nothing written', async (context) => {
  if (!existsSync('/proc/self/fd'))
    return context.skip('needs /proc to see when the recording is being read');
  // An hour of silence, without taking room on the disk: long enough to be stopped.
  const path = join(root, 'takes/long/a.wav');
  const header = wavHeader(3600 * 48_000);
  put(root, { 'takes/long/a.wav': header });
  truncateSync(path, header.length + 3600 * 48_000 * 2);
  const { child, ended } = start(['analyze', join(root, 'takes/long')]);
  while (child.exitCode === null && !isOpenIn(child.pid!, path)) await pause(10);
  child.kill('SIGINT');
  const { status, out, err } = await ended;
  expect([status, out, err]).toEqual([130, '', '']);
  expect(readdirSync(join(root, 'takes/long'))).toEqual(['a.wav']);
  expect(readdirSync(root).sort()).toEqual(['machine.jsonc', 'pattern.csv', 'takes']);
});

function isOpenIn(pid: number, path: string): boolean {
  try {
    return readdirSync(`/proc/${pid}/fd`).some((fd) => linkIn(`/proc/${pid}/fd/${fd}`) === path);
  } catch {
    return false; // it has ended
  }
}

function linkIn(path: string): string {
  try {
    return readlinkSync(path);
  } catch {
    return '';
  }
}

/** The 44 bytes before mono 16-bit samples at 48 kHz (the canonical RIFF/WAVE form). */
function wavHeader(samples: number): Uint8Array {
  const view = new DataView(new ArrayBuffer(44));
  const ascii = (at: number, text: string) =>
    [...text].forEach((c, i) => view.setUint8(at + i, c.charCodeAt(0)));
  ascii(0, 'RIFF');
  view.setUint32(4, 36 + samples * 2, true);
  ascii(8, 'WAVEfmt ');
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, 48_000, true);
  view.setUint32(28, 96_000, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  ascii(36, 'data');
  view.setUint32(40, samples * 2, true);
  return new Uint8Array(view.buffer);
}

test('a closed pipe is no fault', async () => {
  const { child, ended } = start(['analyze', join(root, 'takes/may'), '--json']);
  child.stdout.destroy();
  expect(await ended).toMatchObject({ status: 0, err: '' });
});
