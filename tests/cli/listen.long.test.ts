// A recording followed while it is made: through a pipe and as a growing file; at its end it is a take like any other.
import { spawn } from 'node:child_process';
import {
  appendFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { cli, run, start } from './run.ts';
import { makeMachine } from './small-machine.ts';
import { ids, recording, recordingText, sampleRate } from './small-recording.ts';

let root: string;
beforeEach(() => (root = makeMachine({})));
afterEach(() => rmSync(root, { recursive: true, force: true }));
const report = (name: string) =>
  JSON.parse(readFileSync(join(root, 'takes', name, 'report.json'), 'utf8')) as {
    hits: unknown[];
    groups: { channel: string; sector: string; meanMs: number }[];
  };

test('what comes in at a pipe is a take at its end, the same as if it had been analysed by itself', async () => {
  const bytes = recording().subarray(0, 44 + 10 * sampleRate * 2 * ids.length);
  const child = spawn(process.execPath, [cli, 'listen', root, '-', '--name', 'piped', '--tempo', '120'], {
    stdio: ['pipe', 'pipe', 'pipe'],
  });
  let out = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => (out += text));
  child.stderr.setEncoding('utf8').on('data', (text: string) => (out += text));
  // A recorder in a pipe cannot put its header right.
  const head = bytes.slice(0, 44);
  new DataView(head.buffer).setUint32(4, 0xffffffff, true);
  new DataView(head.buffer).setUint32(40, 0xffffffff, true);
  child.stdin.write(head);
  child.stdin.end(bytes.subarray(44));
  const status = await new Promise((resolve) => child.once('close', resolve));
  expect(status, out).toBe(0);
  const folder = join(root, 'takes/piped');
  expect(readFileSync(join(folder, 'recording.wav')).subarray(44)).toEqual(Buffer.from(bytes.subarray(44)));
  expect(readFileSync(join(folder, 'take.jsonc'), 'utf8')).toContain('"tempo": 120');
  const again = join(root, 'takes/again');
  mkdirSync(again);
  for (const name of ['recording.wav', 'take.jsonc'])
    writeFileSync(join(again, name), readFileSync(join(folder, name)));
  expect((await run(['analyze', again])).status).toBe(0);
  expect(report('again').hits).toEqual(report('piped').hits);
  expect(report('again').groups).toEqual(report('piped').groups);
}, 120_000);

test('a file that grows is told of while it grows, and analysed when it grows no more', async () => {
  const bytes = recording();
  const folder = join(root, 'takes/now');
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'take.jsonc'), recordingText);
  const file = join(folder, 'recording.wav');
  const { child, ended } = start(['listen', root, file, '--tempo', '126', '--setpoint', '1000']);
  // The recorder starts when the command says it waits: a busy computer takes seconds to load it.
  const waits = new Promise<void>((resolve) =>
    child.stderr.on('data', (text: string) => {
      if (text.includes('waiting for')) resolve();
    }),
  );
  await Promise.race([waits, ended]);
  const head = bytes.slice(0, 44);
  new DataView(head.buffer).setUint32(4, 0, true);
  new DataView(head.buffer).setUint32(40, 0, true);
  writeFileSync(file, head);
  for (let at = 44; at < bytes.length; at += 60_000) {
    appendFileSync(file, bytes.subarray(at, at + 60_000));
    await sleep(200);
  }
  const { status, out, err } = await ended;
  expect(status, err).toBe(0);
  expect(err).toContain('waiting for');
  // 126/120 of the set-point.
  expect(out).toMatch(
    /^0:\d\d 120\.\d+ ± \S+ beats a minute, 126 wanted: 5\.00 % more set-point \(try 1050\)$/m,
  );
  expect(out).toMatch(/Low drum in [AB] \+[23]\.\d\d ± \S+ ms LATE/);
  expect(out).toMatch(/recording\.wav is a take now\./);
  const drum = report('now').groups.find(({ channel, sector }) => channel === 'drum' && sector === 'A')!;
  expect(Math.abs(drum.meanMs - 3)).toBeLessThan(0.3);
}, 120_000);

test('a recording that lies anywhere else is copied into a take of its own', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'recorder-'));
  try {
    const file = join(folder, 'today.wav');
    writeFileSync(file, recording().subarray(0, 44 + 5 * sampleRate * 2 * ids.length));
    const { status, out, err } = await run(['listen', root, file, '--name', 'today']);
    expect(status, err).toBe(0);
    expect(out).toContain(`${join(root, 'takes/today/today.wav')} is a take now.`);
    expect(report('today').hits.length).toBeGreaterThan(0);
    expect(existsSync(file)).toBe(true);
  } finally {
    rmSync(folder, { recursive: true });
  }
}, 120_000);
