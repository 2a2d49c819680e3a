// Solos by hand in the terminal: voices beside machine.jsonc, and the lines that say which microphone stands where.
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { readSavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import { writeWav } from '../../samples/wav.ts';
import { session, type Session } from '../hits/solo-session.ts';
import { struck } from '../hits/synthetic.ts';
import { run } from './run.ts';
import { makeMachine } from './small-machine.ts';

const sampleRate = 16_000;
const block = struck(900, 0.1, sampleRate);
const drum = struck(220, 0.2, sampleRate);
const bell = struck(2000, 0.3, sampleRate);
const usual: Session = {
  sampleRate,
  sounds: [block, drum, bell],
  metres: [
    [0.2, 1.2],
    [1.2, 0.2],
    [0.4, 1.1],
  ],
  gainDb: [-18, -12],
  noiseDb: -50,
  strikes: 10,
  seed: 7,
};

let root: string;
let recorder: string;
beforeEach(() => {
  root = makeMachine({});
  recorder = mkdtempSync(join(tmpdir(), 'recorder-'));
});
afterEach(() => {
  rmSync(root, { recursive: true });
  rmSync(recorder, { recursive: true });
});

function recorded(name: string, scene: Session): string {
  const file = join(recorder, name);
  writeFileSync(file, writeWav(sampleRate, session(scene).tracks));
  return file;
}

test('one after another: voices, and tracks for take.jsonc', async () => {
  const file = recorded('solos.wav', usual);
  const { status, out, err } = await run(['solos', root, file]);
  expect(status, err).toBe(0);
  expect(out).toMatch(/^block: 10 strikes in solos\.wav, 0:02 to 0:1\d; its microphone is track 0$/m);
  expect(out).toMatch(/^drum: 10 strikes in solos\.wav, .*; its microphone is track 1$/m);
  expect(out).toContain(`"tracks": [
  { "file": "solos.wav", "track": 0, "channels": ["block", "bell"] },
  { "file": "solos.wav", "track": 1, "channels": ["drum"] }
]`);
  for (const id of ['block', 'drum', 'bell']) {
    const path = join(root, 'voices', `${id}.json`);
    const voice = readSavedVoice(path, readFileSync(path, 'utf8'));
    expect([voice.channel, voice.take, voice.strikes]).toEqual([id, 'solos.wav', 10]);
  }
  expect(existsSync(join(root, 'takes'))).toBe(false);
});

test('what ran into full scale is said', async () => {
  const file = recorded('solos.wav', { ...usual, gainDb: [-18, 6] });
  const { out } = await run(['solos', root, file]);
  expect(out).toMatch(/^track 1 of solos\.wav runs into full scale \(\d+ samples\): record it quieter, .*$/m);
  expect(out).not.toContain('track 0 of solos.wav runs');
});

test('a file each tells by its name whose it is, in whatever order', async () => {
  const alone = (sound: Session['sounds'][number]) => ({
    ...usual,
    sounds: [sound],
    metres: [[0.3]],
    gainDb: [-18],
  });
  const files = [recorded('drum.wav', alone(drum)), recorded('bell.wav', alone(bell))];
  const { status, out, err } = await run(['solos', root, ...files]);
  expect(status, err).toBe(0);
  expect(out).toMatch(/^bell: 10 strikes in bell\.wav, 0:02 to 0:1\d$/m);
  expect(out).not.toContain('"tracks"');
  expect(readdirSync(join(root, 'voices')).sort()).toEqual(['bell.json', 'drum.json']);
});

test('what is wrong is one line, and nothing is written', async () => {
  const file = recorded('solos.wav', usual);
  const refused = async (args: readonly string[], line: RegExp) => {
    const { status, err } = await run(['solos', ...args]);
    expect(status).toBe(2);
    expect(err.trim()).toMatch(line);
  };
  await refused(
    [root, file, '--order', 'block,dum'],
    /^--order: "dum" is no channel of this machine; its channels are block, drum, bell; "-" is/,
  );
  await refused([root, file, '--order', 'bell,drum,bell'], /^--order: "bell" is there twice; /);
  await refused(
    [root, file, '--order', 'drum,bell'],
    /^solos\.wav: 3 strikers are struck one after another, from 0:02/,
  );
  await refused([root, join(recorder, 'none.wav')], /none\.wav: is not there/);
  await refused([root], /no recording was named/);
  await refused([root, file, file], /two files are called solos\.wav/);
  const few = recorded('few.wav', { ...usual, strikes: 5 });
  await refused(
    [root, few],
    /^few\.wav: no striker was heard well enough to be learnt; strike each ten times$/,
  );
  expect(existsSync(join(root, 'voices'))).toBe(false);
});
