// Writers that are killed at random moments, and writers that meet: real processes, as they would be.
import { spawn, type ChildProcess } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { build } from 'esbuild';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { writeWhole } from '../../extension/files/write.ts';
import { seededRandom } from '../../samples/random.ts';

/** More in the long run: KILLS=500. */
const kills = Number(process.env.KILLS ?? 30);
const seed = Number(process.env.SEED ?? 20261125);

let folder: string;
let writer: string;

beforeAll(async () => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-crash-')));
  writer = join(folder, 'writer.mjs');
  await build({
    stdin: { contents: writerSource, resolveDir: join(import.meta.dirname, '../..'), loader: 'ts' },
    bundle: true,
    platform: 'node',
    format: 'esm',
    outfile: writer,
    logLevel: 'error',
  });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Writes three files of one result over and over, or adds lines to one file. */
const writerSource = `
import { writeRetrying, writeWhole } from './extension/files/write.ts';
import { join } from 'node:path';
const [root, what, name, count] = process.argv.slice(2);
const encode = (text) => new TextEncoder().encode(text);
if (what === 'results') {
  for (let n = 1; ; n++) {
    await writeWhole(root, ['a', 'b', 'c'].map((file) => ({
      path: join(root, file + '.txt'),
      bytes: encode(String(n).padStart(6, '0') + 'x'.repeat(200_000) + String(n).padStart(6, '0')),
    })));
    if (n === 1) console.log('started');
  }
}
const path = join(root, 'log.txt');
for (let i = 0; i < Number(count); i++)
  await writeRetrying(root, path, (before) => [
    { path, before, bytes: encode((before ? new TextDecoder().decode(before) : '') + name + i + '\\n') },
  ]);
`;

const started = (child: ChildProcess) =>
  new Promise<void>((resolve) => child.stdout!.once('data', () => resolve()));
const ended = (child: ChildProcess) =>
  new Promise<number | null>((resolve) => child.once('close', (code) => resolve(code)));

test(`killed ${kills} times at random moments (seed ${seed}), every file is old or new, whole, and leftovers go`, async () => {
  const root = realpathSync(mkdtempSync(join(folder, 'killed-')));
  const next = seededRandom(seed);
  let leftovers = 0;
  for (let i = 0; i < kills; i++) {
    const child = spawn(process.execPath, [writer, root, 'results'], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    const end = ended(child);
    await started(child);
    await pause(next.uniform() * 40);
    child.kill('SIGKILL');
    await end;
    for (const name of ['a.txt', 'b.txt', 'c.txt']) {
      const text = readFileSync(join(root, name), 'utf8');
      expect(text).toHaveLength(200_012);
      expect(text.slice(0, 6)).toBe(text.slice(-6));
    }
    leftovers += readdirSync(root).filter((name) => name.startsWith('.shimwright')).length;
  }
  // Had no kill struck while a file was being written, this test would show nothing.
  expect(leftovers).toBeGreaterThan(0);
  await writeWhole(root, [{ path: join(root, 'a.txt'), bytes: new TextEncoder().encode('last') }]);
  expect(readdirSync(root).sort()).toEqual(['a.txt', 'b.txt', 'c.txt']);
});

test('four programs that add ten lines each at once lose none', async () => {
  const root = realpathSync(mkdtempSync(join(folder, 'met-')));
  writeFileSync(join(root, 'log.txt'), 'a person’s own line\n');
  const names = ['p', 'q', 'r', 's'];
  const codes = await Promise.all(
    names.map((name) =>
      ended(spawn(process.execPath, [writer, root, 'lines', name, '10'], { stdio: 'inherit' })),
    ),
  );
  expect(codes).toEqual([0, 0, 0, 0]);
  const lines = readFileSync(join(root, 'log.txt'), 'utf8').trimEnd().split('\n');
  expect(lines[0]).toBe('a person’s own line');
  const expected = names.flatMap((name) => Array.from({ length: 10 }, (_, i) => `${name}${i}`));
  expect(lines.slice(1).sort()).toEqual(expected.sort());
});
