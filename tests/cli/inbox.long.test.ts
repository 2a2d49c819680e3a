// A recorder's folder, as the built command finds it: what becomes a take, what is left, and what is said of each.
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
import { writeWav } from '../../samples/wav.ts';
import { speech } from '../rig/room.ts';
import { run } from './run.ts';
import { makeMachine, put } from './small-machine.ts';
import { recording, sampleRate } from './small-recording.ts';

let root: string;
let card: string;
beforeEach(() => {
  root = makeMachine({});
  card = mkdtempSync(join(tmpdir(), 'shimwright-card-'));
});
afterEach(() => {
  for (const folder of [root, card]) rmSync(folder, { recursive: true, force: true });
});

/** Written some days ago. */
function onCard(name: string, bytes: Uint8Array, day = 3): string {
  put(card, { [name]: bytes });
  const at = new Date(2026, 4, day, 12);
  utimesSync(join(card, name), at, at);
  return join(card, name);
}
const takes = (of = root) => (existsSync(join(of, 'takes')) ? readdirSync(join(of, 'takes')).sort() : []);
const talk = () => writeWav(sampleRate, [speech(20 * sampleRate, sampleRate, 4)]);

/** The whole recording with each sample as it is, so many bytes shorter: another recording of the same machine. */
const shorter = (by: number) => {
  const bytes = recording();
  const samples = (bytes.length - 44) / 2 / 3 - by;
  const cut = bytes.slice(0, 44 + samples * 6);
  const view = new DataView(cut.buffer);
  view.setUint32(4, cut.length - 8, true);
  view.setUint32(40, cut.length - 44, true);
  return cut;
};

test('of a whole card each recording that fits becomes a take of its own, once; the rest is told and left', async () => {
  onCard('FOLDER01/one.wav', recording());
  onCard('FOLDER01/two.wav', shorter(100));
  onCard('talk.wav', talk());
  onCard('spoilt.wav', new TextEncoder().encode('RIFF and no more'));
  onCard('notes.txt', new TextEncoder().encode('bought grease'));
  const first = await run(['inbox', card, root, '--yes', '--once', '--quiet']);
  expect(first.status, first.err).toBe(2);
  expect(first.out).toContain(`3 recordings in ${card}:`);
  expect(first.out).toMatch(
    /1 {2}FOLDER01\/one\.wav, 0:18: Weir Lane test barrel \(\d+ % of its sounds at pins/,
  );
  expect(first.out).toContain('3  talk.wav, 0:20: not Weir Lane test barrel, by its pattern');
  expect(first.out).toContain(`If it is one all the same: shimwright take MACHINE ${join(card, 'talk.wav')}`);
  expect(first.err.trim().split('\n')).toEqual([expect.stringContaining(`${join(card, 'spoilt.wav')}: `)]);
  expect(takes()).toEqual(['2026-05-03', '2026-05-03-2']);
  expect(readdirSync(join(root, 'takes/2026-05-03')).sort()).toEqual(
    expect.arrayContaining(['one.wav', 'report.json', 'take.jsonc']),
  );
  expect(existsSync(join(root, 'takes/2026-05-03-2/report.json'))).toBe(true);
  expect(existsSync(join(card, 'FOLDER01/one.wav'))).toBe(true);

  // The same again, under another name too: nothing new.
  onCard('renamed.wav', recording(), 9);
  const again = await run(['inbox', card, root, '--yes', '--once']);
  expect(again.err).toContain(
    `${join(card, 'renamed.wav')}: is in ${join(root, 'takes/2026-05-03')} already`,
  );
  expect(takes()).toEqual(['2026-05-03', '2026-05-03-2']);
});

test('moved, a file goes once its copy is the same; two machines of one pattern are not chosen between', async () => {
  const file = onCard('one.wav', recording());
  const twin = makeMachine({});
  try {
    const either = await run(['inbox', card, root, twin, '--yes', '--once', '--move']);
    expect(either.status, either.err).toBe(0);
    expect(either.out).toContain('Weir Lane test barrel or Weir Lane test barrel: their patterns fit alike');
    expect([takes(), takes(twin)]).toEqual([[], []]);
    expect(existsSync(file)).toBe(true);
  } finally {
    rmSync(twin, { recursive: true, force: true });
  }
  const moved = await run(['inbox', card, root, '--yes', '--once', '--move']);
  expect(moved.status, moved.err).toBe(0);
  expect(existsSync(file)).toBe(false);
  expect(readFileSync(join(root, 'takes/2026-05-03/one.wav'))).toEqual(Buffer.from(recording()));
});

test('without --yes and nobody to ask, nothing is made', async () => {
  onCard('one.wav', recording());
  const told = await run(['inbox', card, root, '--once']);
  expect(told.status, told.err).toBe(0);
  expect(told.out).toContain('give --yes to take what surely fits');
  expect(takes()).toEqual([]);
});

test('what is wrong with the command is one line', async () => {
  mkdirSync(join(card, 'empty'));
  writeFileSync(join(card, 'file'), '');
  expect((await run(['inbox'])).err).toMatch(/no folder was named; give the recorder’s/);
  expect((await run(['inbox', join(card, 'none'), root, '--once'])).err).toMatch(
    /none: is not there; check the path/,
  );
  expect((await run(['inbox', join(card, 'file'), root, '--once'])).status).toBe(2);
  expect((await run(['inbox', card, card, '--once'])).err).toMatch(/no machine\.jsonc/);
  expect((await run(['inbox', join(card, 'empty'), root, '--once'])).status).toBe(0);
});
