/** What strangers put where this tool reads, writes and locks: links, pipes, devices. Each is refused at once. */
import { spawnSync } from 'node:child_process';
import {
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  realpathSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { listTakes } from '../../extension/files/machine-folder.ts';
import { isDevice, openPlain } from '../../extension/files/plain.ts';
import { readInside, readNamed } from '../../extension/files/read.ts';
import { readReport } from '../../extension/files/report-file.ts';
import { writeWhole } from '../../extension/files/write.ts';

let folder: string;
let root: string;
beforeEach(() => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-doors-')));
  root = join(folder, 'machine');
  mkdirSync(join(root, 'takes', 'may'), { recursive: true });
  writeFileSync(join(folder, 'secret.json'), '{ "recorded": "2020-01-01" }');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const one = { bytes: new TextEncoder().encode('one') };
/** Something that waits for a writer for ever is the fault that is looked for. */
const soon = <T>(work: Promise<T>) =>
  Promise.race([
    work,
    pause(20_000, undefined, { ref: false }).then(() => Promise.reject(new Error('it waits'))),
  ]);

const read = (name: string) => readInside(root, join(root, name), name);

test.each(['takes/may/take.jsonc', 'takes/may/corrections.csv', 'CALIBRATION.md'])(
  'a link out of the folder is not read: %s',
  async (name) => {
    symlinkSync(join(folder, 'secret.json'), join(root, name));
    await expect(read(name)).rejects.toThrow(`${name}: is a link that leads out of the machine’s folder`);
  },
);

test('nor through a folder that is one; a link within the folder is', async () => {
  mkdirSync(join(folder, 'elsewhere'));
  writeFileSync(join(folder, 'elsewhere', 'a.txt'), 'x');
  symlinkSync(join(folder, 'elsewhere'), join(root, 'notes'));
  await expect(read('notes/a.txt')).rejects.toThrow(/leads out of the machine’s folder/);
  // Not even to learn that there is no such file there.
  await expect(read('notes/b.txt')).rejects.toThrow(/leads out of the machine’s folder/);
  await expect(read('notes/new/b.txt')).rejects.toThrow(/leads out of the machine’s folder/);
  expect(await read('new/b.txt')).toBeNull();
  writeFileSync(join(root, 'log.md'), 'mine');
  symlinkSync('log.md', join(root, 'CALIBRATION.md'));
  expect(new TextDecoder().decode((await read('CALIBRATION.md'))!)).toBe('mine');
});

test('a link to nothing, or to itself, is told as such; what is not there is not', async () => {
  symlinkSync('nowhere', join(root, 'a'));
  symlinkSync('b', join(root, 'b'));
  await expect(read('a')).rejects.toThrow('a: is a link to something that is not there; remove the link');
  await expect(read('b')).rejects.toThrow('b: is a link that leads back to itself');
  expect(await read('c')).toBeNull();
});

test('the takes’ own dates and reports come through the same door', async () => {
  symlinkSync(join(folder, 'secret.json'), join(root, 'takes/may/take.jsonc'));
  // The take is listed with its fault: the others go on without it.
  expect((await listTakes(root, root)).map(({ fault }) => fault?.message)).toEqual([
    expect.stringMatching(/take\.jsonc: is a link that leads out/),
  ]);
  symlinkSync(join(folder, 'secret.json'), join(root, 'takes/may/report.json'));
  await expect(readReport(root, join(root, 'takes/may'), 'takes/may')).rejects.toThrow(
    /report\.json: is a link that leads out/,
  );
});

test('a pipe and a device are not opened', async () => {
  spawnSync('mkfifo', [join(root, 'pipe')]);
  await expect(soon(read('pipe'))).rejects.toThrow('pipe: is not a plain file');
  await expect(soon(openPlain('/dev/zero', 'zero'))).rejects.toThrow('zero: is not a plain file');
  await expect(soon(readNamed('/dev/zero'))).rejects.toThrow('/dev/zero: is not a plain file');
});

test('what is a link by the time it is opened is not followed', async () => {
  symlinkSync(join(folder, 'secret.json'), join(root, 'a'));
  await expect(openPlain(join(root, 'a'), 'a')).rejects.toThrow('a: is not a plain file');
});

const locks: [what: string, put: (path: string) => void][] = [
  ['a pipe', (path) => void spawnSync('mkfifo', [path])],
  ['a link to a device', (path) => symlinkSync('/dev/zero', path)],
  ['a link to a person’s file', (path) => symlinkSync('../secret.json', path)],
  ['a link to nothing', (path) => symlinkSync('nowhere', path)],
  ['a folder', (path) => mkdirSync(path)],
];
test.each(locks)('a lock that is %s is refused at once, and left alone', async (_, put) => {
  put(join(root, '.shimwright.lock'));
  const written = writeWhole(root, [{ path: join(root, 'a.txt'), ...one }]);
  await expect(soon(written)).rejects.toThrow(
    /\.shimwright\.lock: is no plain file, where this tool keeps its lock; find out/,
  );
  expect(readdirSync(root).sort()).toEqual(['.shimwright.lock', 'takes']);
  expect(readFileSync(join(folder, 'secret.json'), 'utf8')).toContain('2020');
});

test('a lock of a gigabyte is not read whole, and one that says nothing is waited for no longer than a stop', async () => {
  writeFileSync(join(root, '.shimwright.lock'), '{'.repeat(100_000));
  const stop = new AbortController();
  const written = writeWhole(root, [{ path: join(root, 'a.txt'), ...one }], stop.signal);
  setTimeout(() => stop.abort(new Error('stopped')), 100);
  await expect(soon(written)).rejects.toThrow('stopped');
  expect(readdirSync(root).sort()).toEqual(['.shimwright.lock', 'takes']);
});

test.each(['a.txt', 'takes/may/report.json'])(
  'a link out of the folder is not written through: %s',
  async (name) => {
    symlinkSync(join(folder, 'secret.json'), join(root, name));
    await expect(writeWhole(root, [{ path: join(root, name), ...one }])).rejects.toThrow(
      /leads out of the machine/,
    );
    rmSync(join(root, name));
    symlinkSync('../outside-and-new', join(root, name));
    await expect(writeWhole(root, [{ path: join(root, name), ...one }])).rejects.toThrow(
      /is a link to something/,
    );
    expect(readdirSync(folder).sort()).toEqual(['machine', 'secret.json']);
  },
);

test('nor into a folder that is a link out', async () => {
  symlinkSync(folder, join(root, 'voices'));
  await expect(writeWhole(root, [{ path: join(root, 'voices', 'a.json'), ...one }])).rejects.toThrow(
    /leads out/,
  );
  expect(readdirSync(folder).sort()).toEqual(['machine', 'secret.json']);
});

test('names that Windows keeps for devices are known there, with any ending and case', () => {
  for (const name of ['con', 'CON.json', 'nul.txt', 'com1.wav', 'LPT9', 'aux .csv', 'con:x'])
    expect(isDevice(join('voices', name), 'win32'), name).toBe(true);
  for (const name of ['conga.json', 'com.wav', 'com10', 'a.con', 'console'])
    expect(isDevice(name, 'win32'), name).toBe(false);
  expect(isDevice('con.json', 'linux')).toBe(false);
});
