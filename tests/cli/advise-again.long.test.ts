// What runs the built command many times over: takes that are analysed again, and settings that are applied.
import { readFileSync, rmSync, statSync, utimesSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { savedVoiceText } from '../../analysis/hits/learn/saved-voice.ts';
import { adviceSchema, type Advice } from '../../analysis/results/results.ts';
import { run } from './run.ts';
import { drumVoice, machineText, makeMachine, markers, put } from './small-machine.ts';

let root: string;
beforeEach(() => {
  // Drum 3.2 ms late, sector B 1.3 ms: five shims of 0.637 ms out of the lever, two out of the joint.
  root = makeMachine({ 'takes/may/hits.csv': markers({ drum: 3.2, sectorB: 1.3 }) });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const read = (name: string) => readFileSync(join(root, name), 'utf8');
const advice = (out: string): Advice => adviceSchema.parse(JSON.parse(out));

test('takes without a fresh report are analysed; a fresh one is left as it is', async () => {
  await run(['advise', root]);
  const first = statSync(join(root, 'takes/may/report.json')).mtimeMs;
  await run(['advise', root]);
  expect(statSync(join(root, 'takes/may/report.json')).mtimeMs).toBe(first);
  for (const [name, text] of [
    ['takes/may/hits.csv', `${read('takes/may/hits.csv')}\n`],
    ['pattern.csv', `${read('pattern.csv')}11,bell\n`],
    ['voices/drum.json', savedVoiceText(drumVoice)],
  ]) {
    const before = statSync(join(root, 'takes/may/report.json')).mtimeMs;
    const later = new Date(before + 50);
    utimesSync(join(root, 'pattern.csv'), later, later);
    await run(['advise', root]);
    expect(statSync(join(root, 'takes/may/report.json')).mtimeMs).toBe(before);
    put(root, { [name]: text });
    await run(['advise', root]);
    expect(statSync(join(root, 'takes/may/report.json')).mtimeMs).toBeGreaterThan(before);
  }
});

test('a machine with other tolerances needs its takes anew; other settings do not', async () => {
  await run(['advise', root]);
  const first = statSync(join(root, 'takes/may/report.json')).mtimeMs;
  put(root, { 'machine.jsonc': machineText.replace('"installed": 3', '"installed": 4') });
  await run(['advise', root]);
  expect(statSync(join(root, 'takes/may/report.json')).mtimeMs).toBe(first);
  put(root, { 'machine.jsonc': machineText.replace('"toleranceMs": 1', '"toleranceMs": 1.5') });
  await run(['advise', root]);
  expect(statSync(join(root, 'takes/may/report.json')).mtimeMs).toBeGreaterThan(first);
});

test('--apply writes the proposal into machine.jsonc, every other byte kept, and says so in the changelog', async () => {
  const { settings } = advice((await run(['advise', root, '--json'])).out);
  expect(settings.length).toBeGreaterThan(0);
  const { status, out, err } = await run(['advise', root, '--apply']);
  expect([status, err]).toEqual([0, '']);
  let expected = machineText;
  for (const { adjuster, installed, proposed } of settings)
    expected = expected.replace(new RegExp(`("${adjuster}"[^]*?"installed": )${installed}`), `$1${proposed}`);
  expect(read('machine.jsonc')).toBe(expected);
  for (const { adjuster, installed, proposed } of settings)
    expect(out).toContain(`${adjuster} ${installed} → ${proposed}`);
  expect(read('CALIBRATION.md')).toMatch(/settings fitted after take may/);
});

test('two programs that apply at once: both changes are there, or the second is told', async () => {
  await run(['advise', root]);
  const outcomes = await Promise.all(
    ['joint-AB=4', 'lever-drum=6'].map((pair) => run(['advise', root, '--apply', pair])),
  );
  for (const { status, err } of outcomes)
    if (status !== 0) expect(err).toMatch(/machine\.jsonc: was changed by someone else/);
  const done = outcomes.filter(({ status }) => status === 0).length;
  const text = read('machine.jsonc');
  const changes = [text.includes('"installed": 4'), text.includes('"installed": 6')].filter(Boolean).length;
  expect(changes).toBe(done);
  expect(read('CALIBRATION.md').match(/settings fitted/g)).toHaveLength(done);
});
