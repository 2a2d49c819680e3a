import { asText } from '../../extension/common/utf8.ts';
import { spawnSync } from 'node:child_process';
import {
  appendFileSync,
  mkdirSync,
  mkdtempSync,
  realpathSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { openSources, pathWithin, readBytes, readInside } from '../../extension/files/read.ts';

let root: string;
let take: string;
beforeEach(() => {
  root = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-read-')));
  take = join(root, 'takes', 'may');
  mkdirSync(take, { recursive: true });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const numbers = Uint8Array.from({ length: 1000 }, (_, i) => i % 251);

test('a source gives the same bytes however the reads are cut', async () => {
  writeFileSync(join(take, 'a.wav'), numbers);
  const sources = await openSources(root, take, 'takes/may');
  const [file] = sources.files;
  expect([file.name, file.sizeBytes]).toEqual(['a.wav', 1000]);
  expect(await file.read()).toEqual(numbers);
  const parts = await Promise.all([file.read(700), file.read(0, 3), file.read(3, 700)]);
  expect(parts).toEqual([numbers.slice(700), numbers.slice(0, 3), numbers.slice(3, 700)]);
  expect(await file.read(990, 2000)).toEqual(numbers.slice(990));
  expect(await file.read(2000, 3000)).toEqual(new Uint8Array(0));
  await sources.close();
});

test('a file that became shorter after it was listed gives what is left', async () => {
  writeFileSync(join(take, 'a.wav'), numbers);
  const sources = await openSources(root, take, 'takes/may');
  truncateSync(join(take, 'a.wav'), 10);
  expect(await sources.files[0].read()).toEqual(numbers.slice(0, 10));
  const now = await openSources(root, take, 'takes/may');
  expect(now.fingerprint).not.toBe(sources.fingerprint);
  await sources.close();
});

test('the tool’s own files, hidden ones, folders and pipes are no sources; a person’s corrections are', async () => {
  for (const name of [
    'report.json',
    'report.md',
    'report.svg',
    'checks.svg',
    'corrections.csv',
    '.DS_Store',
    'b.csv',
    'a.wav',
  ])
    writeFileSync(join(take, name), 'x');
  mkdirSync(join(take, 'old'));
  spawnSync('mkfifo', [join(take, 'pipe')]);
  const { files } = await openSources(root, take, 'takes/may');
  // A person's word about hits is an input of the take, though no recording.
  expect(files.map(({ name }) => name)).toEqual(['a.wav', 'b.csv', 'corrections.csv']);
});

test('a link inside the machine’s folder is followed; one that leads out is refused by name', async () => {
  mkdirSync(join(root, 'audio'));
  writeFileSync(join(root, 'audio', 'long.wav'), numbers);
  symlinkSync('../../audio/long.wav', join(take, 'a.wav'));
  const sources = await openSources(root, take, 'takes/may');
  expect(await sources.files[0].read(0, 2)).toEqual(numbers.slice(0, 2));
  await sources.close();
  symlinkSync('/etc/hostname', join(take, 'b.wav'));
  await expect(openSources(root, take, 'takes/may')).rejects.toThrow(
    'takes/may/b.wav: is a link that leads out of the machine’s folder',
  );
});

test.each(['../../../etc/hostname', '/etc/hostname', '..'])(
  'a name that leads out is refused: %s',
  async (name) => {
    await expect(pathWithin(root, root, name, 'machine.jsonc')).rejects.toThrow(
      /leads out of the machine’s folder/,
    );
  },
);

test('a name with dots in it, or one that goes down and up again, is inside', async () => {
  writeFileSync(join(root, '..pins.csv'), '');
  expect(await pathWithin(root, root, '..pins.csv', 'p')).toBe(join(root, '..pins.csv'));
  expect(await pathWithin(root, root, 'takes/../..pins.csv', 'p')).toBe(join(root, '..pins.csv'));
});

test('what cannot be read says so in one line with the name the person knows', async () => {
  await expect(readBytes(join(root, 'no.json'), 'no.json')).rejects.toThrow('no.json: is not there');
  expect(await readInside(root, join(root, 'no.json'), 'no.json')).toBeNull();
  await expect(readBytes(take, 'takes/may')).rejects.toThrow('takes/may: is a folder, where a file belongs');
  spawnSync('mkfifo', [join(root, 'pipe')]);
  await expect(readBytes(join(root, 'pipe'), 'pipe')).rejects.toThrow('pipe: is not a plain file');
  writeFileSync(join(root, 'huge.json'), '');
  truncateSync(join(root, 'huge.json'), 3 * 2 ** 30);
  await expect(readBytes(join(root, 'huge.json'), 'huge.json')).rejects.toThrow(
    /is the most that is read as text/,
  );
  appendFileSync(join(root, 'a'), '');
  await expect(readBytes(join(root, 'a', 'b'), 'a/b')).rejects.toThrow('a/b: has a file in its path');
});

test('text keeps its byte order mark; UTF-16 and Latin-1 are refused with the mend', () => {
  expect(asText(Uint8Array.of(0xef, 0xbb, 0xbf, 0x61), 'a')).toBe('\uFEFFa');
  expect(() => asText(Uint8Array.of(0xff, 0xfe, 0x61, 0), 'a')).toThrow(
    'a: is UTF-16 text; save it as UTF-8',
  );
  expect(() => asText(Uint8Array.of(0x6d, 0xfc, 0x6c), 'a')).toThrow(
    'a: is not UTF-8 text; save it as UTF-8',
  );
});
