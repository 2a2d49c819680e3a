import { execFileSync, spawnSync } from 'node:child_process';
import {
  chmodSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  realpathSync,
  rmSync,
  statSync,
  symlinkSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { InputProblem } from '../../analysis/input/problem.ts';
import { ChangedOnDisk, writeRetrying, writeWhole } from '../../extension/files/write.ts';
import { cleanLeftovers, temporaryName } from '../../extension/files/temporary.ts';

let folder: string;
beforeEach(() => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-write-')));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const bytes = (text: string) => new TextEncoder().encode(text);
const text = (name: string) => readFileSync(join(folder, name), 'utf8');
const isRoot = process.getuid?.() === 0;

test('a new file is written, and nothing else is left beside it', async () => {
  await writeWhole(folder, [{ path: join(folder, 'a.txt'), bytes: bytes('one') }]);
  expect(text('a.txt')).toBe('one');
  expect(readdirSync(folder)).toEqual(['a.txt']);
});

test('the mode of a file is kept when it is replaced', async () => {
  writeFileSync(join(folder, 'a.txt'), 'old');
  chmodSync(join(folder, 'a.txt'), 0o640);
  await writeWhole(folder, [{ path: join(folder, 'a.txt'), bytes: bytes('new') }]);
  expect(text('a.txt')).toBe('new');
  expect(statSync(join(folder, 'a.txt')).mode & 0o777).toBe(0o640);
});

test('a link inside the folder stays a link, and what it points to is replaced', async () => {
  mkdirSync(join(folder, 'notes'));
  writeFileSync(join(folder, 'notes', 'log.md'), 'old');
  symlinkSync('notes/log.md', join(folder, 'CALIBRATION.md'));
  await writeWhole(folder, [{ path: join(folder, 'CALIBRATION.md'), bytes: bytes('new') }]);
  expect(text('notes/log.md')).toBe('new');
  expect(readdirSync(folder).sort()).toEqual(['CALIBRATION.md', 'notes']);
  expect(readdirSync(join(folder, 'notes'))).toEqual(['log.md']);
});

test('a link out of the folder is refused and its target left alone', async () => {
  mkdirSync(join(folder, 'machine'));
  writeFileSync(join(folder, 'mine.txt'), 'private');
  symlinkSync('../mine.txt', join(folder, 'machine', 'report.json'));
  const change = { path: join(folder, 'machine', 'report.json'), bytes: bytes('x') };
  await expect(writeWhole(join(folder, 'machine'), [change])).rejects.toThrow(/leads out of the machine/);
  expect(text('mine.txt')).toBe('private');
  expect(readdirSync(join(folder, 'machine'))).toEqual(['report.json']);
});

test('where one of several cannot be written, none is', async () => {
  writeFileSync(join(folder, 'a.txt'), 'old');
  mkdirSync(join(folder, 'b.txt'));
  const changes = ['a.txt', 'b.txt'].map((name) => ({ path: join(folder, name), bytes: bytes('new') }));
  await expect(writeWhole(folder, changes)).rejects.toThrow(InputProblem);
  expect(text('a.txt')).toBe('old');
  expect(readdirSync(folder).sort()).toEqual(['a.txt', 'b.txt']);
});

test('a file that someone changed since it was read is left as it is, and the others too', async () => {
  writeFileSync(join(folder, 'a.txt'), 'old');
  writeFileSync(join(folder, 'b.txt'), 'theirs');
  const changes = [
    { path: join(folder, 'a.txt'), bytes: bytes('mine') },
    { path: join(folder, 'b.txt'), bytes: bytes('mine'), before: bytes('what I read') },
  ];
  await expect(writeWhole(folder, changes)).rejects.toThrow(ChangedOnDisk);
  expect([text('a.txt'), text('b.txt')]).toEqual(['old', 'theirs']);
});

test('a file that has appeared, or gone, since it was read counts as changed', async () => {
  writeFileSync(join(folder, 'new.txt'), 'theirs');
  const appeared = { path: join(folder, 'new.txt'), bytes: bytes('mine'), before: null };
  const gone = { path: join(folder, 'gone.txt'), bytes: bytes('mine'), before: bytes('old') };
  await expect(writeWhole(folder, [appeared])).rejects.toThrow(ChangedOnDisk);
  await expect(writeWhole(folder, [gone])).rejects.toThrow(ChangedOnDisk);
  expect(readdirSync(folder)).toEqual(['new.txt']);
});

test('twenty writers adding a line at once lose none', async () => {
  const path = join(folder, 'log.txt');
  await Promise.all(
    Array.from({ length: 20 }, (_, i) =>
      writeRetrying(folder, path, (now) => [
        { path, before: now, bytes: bytes(`${now ? new TextDecoder().decode(now) : ''}${i}\n`) },
      ]),
    ),
  );
  const lines = text('log.txt').trim().split('\n').map(Number);
  expect(lines.sort((a, b) => a - b)).toEqual(Array.from({ length: 20 }, (_, i) => i));
});

test('leftovers of a killed run are cleaned; those of a running one and other files stay', async () => {
  const dead = spawnSync(process.execPath, ['-e', '0']).pid;
  const running = temporaryName();
  writeFileSync(join(folder, running), 'being written');
  writeFileSync(join(folder, running.replace(`-${process.pid}-`, `-${dead}-`)), 'half');
  writeFileSync(join(folder, '.shimwright-notes.tmp'), 'a person’s own');
  const old = running.replace(/-[^-]+-(\d+)-/, '-elsewhere-$1-');
  writeFileSync(join(folder, old), 'half');
  utimesSync(join(folder, old), 1, 1);
  await cleanLeftovers(folder);
  expect(readdirSync(folder).sort()).toEqual([running, '.shimwright-notes.tmp'].sort());
});

test('the lock of a killed run is taken over at once', async () => {
  const dead = spawnSync(process.execPath, ['-e', '0']).pid;
  const { hostname } = await import('node:os');
  const lock = { pid: dead, host: hostname(), token: 'x' };
  writeFileSync(join(folder, '.shimwright.lock'), JSON.stringify(lock));
  const began = performance.now();
  await writeWhole(folder, [{ path: join(folder, 'a.txt'), bytes: bytes('one') }]);
  expect(performance.now() - began).toBeLessThan(5000);
  expect(readdirSync(folder)).toEqual(['a.txt']);
});

test('a stopped run writes nothing', async () => {
  const changes = [{ path: join(folder, 'a.txt'), bytes: bytes('one') }];
  const reason = new Error('stopped');
  await expect(writeWhole(folder, changes, AbortSignal.abort(reason))).rejects.toBe(reason);
  expect(readdirSync(folder)).toEqual([]);
});

test('a disk that is full: one clear line, the old file whole, nothing left', (context) => {
  if (!isRoot) return context.skip('needs root to mount a small disk');
  const disk = join(folder, 'disk');
  mkdirSync(disk);
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', disk], { stdio: 'ignore' });
  } catch {
    return context.skip('this system does not let a small disk be mounted');
  }
  return (async () => {
    writeFileSync(join(disk, 'a.txt'), 'old');
    const full = writeWhole(disk, [{ path: join(disk, 'a.txt'), bytes: new Uint8Array(200_000) }]);
    await expect(full).rejects.toThrow(/a\.txt: could not be written: the disk is full/);
    expect(readFileSync(join(disk, 'a.txt'), 'utf8')).toBe('old');
    expect(readdirSync(disk)).toEqual(['a.txt']);
  })().finally(() => execFileSync('umount', [disk]));
});

test('a read-only folder: one clear line', (context) => {
  if (isRoot) return context.skip('root may write everywhere; tests/cli has this case as another user');
  return (async () => {
    chmodSync(folder, 0o555);
    const denied = writeWhole(folder, [{ path: join(folder, 'a.txt'), bytes: bytes('x') }]);
    await expect(denied).rejects.toThrow(/may not be written/);
  })().finally(() => chmodSync(folder, 0o755));
});
