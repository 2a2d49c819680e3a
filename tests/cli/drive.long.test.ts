// Runs the built command as a person would.
import { rmSync } from 'node:fs';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { run } from './run.ts';
import { machineText, makeMachine, markers, put, tree } from './small-machine.ts';

const withDrive = (drive: string) =>
  machineText.replace('"reference"', `"drive": ${drive},\n  "reference"`).replace(
    '"adjusters": [',
    // 1000·5/360·2/4 = 6.9 ms a notch, at 2 s a turn
    `"adjusters": [
    { "id": "ring", "unit": "notch", "perUnit": { "degrees": 0.36, "turnsPerBarrelTurn": 4 },
      "shifts": { "channels": ["block"] }, "installed": 0, "min": -36, "max": 36 },`,
  );
const stages = '[ { "name": "gearhead", "ratio": 6 }, { "name": "belt", "ratio": 5 } ]';
const whole = withDrive(`{ "beatsPerOutputTurn": 1, "stages": ${stages}, "maxSetpoint": 3300 }`);

interface Row {
  readonly bpm: number;
  readonly secondsPerTurn: number;
  readonly setpoint: { readonly byRatios: number; readonly byTakes: number | null };
  readonly channels: readonly {
    readonly channel: string;
    readonly latenessMs: number;
    readonly ci95Ms: number;
  }[];
  readonly ring: { readonly proposed: number } | null;
  readonly worstMs: number;
  readonly worstWithRingMs: number;
}
interface Table {
  readonly at: Row;
  readonly around: readonly Row[];
  readonly delays: readonly { readonly channel: string; readonly delayMs: number; readonly from: string }[];
}

let root: string;
beforeEach(() => {
  root = makeMachine({ 'machine.jsonc': whole, 'takes/may/hits.csv': markers({ drum: 3.2, bell: 3.2 }) });
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

const table = async (...args: string[]) => {
  const { status, out, err } = await run(['drive', root, '--json', ...args]);
  expect([status, err]).toEqual([0, '']);
  return JSON.parse(out) as Table;
};

test('the set-point is the tempo times the ratios: 96 through 6 and 5 is 2880', async () => {
  // Gear-train arithmetic, common practice, no source.
  await run(['analyze', `${root}/takes/may`]);
  const { at, around } = await table('--tempo', '96');
  expect(at.setpoint.byRatios).toBe(2880);
  expect(at.secondsPerTurn).toBe(2.5); // 16 steps of 4 a beat: 4 beats
  expect(around.map(({ bpm }) => Math.round(bpm * 10) / 10)).toEqual([
    76.8, 81.6, 86.4, 91.2, 96, 100.8, 105.6, 110.4, 115.2,
  ]);
});

test('it prints set-point, ring, channels and tempi in 100 columns, the warning first, and writes nothing', async () => {
  await run(['analyze', `${root}/takes/may`]);
  const before = tree(root);
  const { status, out, err } = await run(['drive', '.', '--tempo=96'], { cwd: root });
  expect([status, err]).toEqual([0, '']);
  expect(tree(root)).toEqual(before);
  expect(Math.max(...out.split('\n').map((line) => line.length))).toBeLessThanOrEqual(100);
  const words = out.replace(/\s+/g, ' ');
  expect(words).toContain('Motor set-point 2880 by the gear train alone (96 × gearhead 6 × belt 5)');
  expect(words).toContain('Its limit is 3300, 110 beats a minute');
  for (const word of ['isolate it and lock it out', 'licensed electricians', 'come up to it in steps'])
    expect(words).toContain(word);
  expect(words.indexOf('stop the drive')).toBeLessThan(words.indexOf('ring 0 →'));
  expect(out).toMatch(/^Low drum +\+4\.\d+ ± \d+\.\d+ .*physics$/m);
  expect(out).toMatch(/^ +110\.4 +3312 .*beyond its limit$/m);
});

test('a take’s set-point is fed back: what would have given the target', async () => {
  // 120 beats a minute came of 3636: one per cent more than the ratios' 3600.
  put(root, { 'takes/may/take.jsonc': '{ "setpoint": 3636 }' });
  await run(['analyze', `${root}/takes/may`]);
  const { at } = await table('--tempo', '96');
  expect(at.setpoint.byTakes! / 2908.8).toBeCloseTo(1, 4);
});

test('takes at two tempi tell fall from angle, and the ring is set for the tempo', async () => {
  // Both strikers 3.2 ms late at 2 s a turn and 6.2 at 4 s: 0.2 ms of time, 1.5 ms for each second of a turn.
  const slow = markers({ drum: 6.2, bell: 6.2 }, 2, 60);
  put(root, { 'takes/june/hits.csv': slow, 'takes/june/take.jsonc': '{ "recorded": "2030-01-01" }' });
  await run(['analyze', `${root}/takes/may`]);
  await run(['analyze', `${root}/takes/june`]);
  const { at, delays } = await table('--tempo', '96');
  const drum = at.channels.find(({ channel }) => channel === 'drum')!;
  expect(Math.abs(drum.latenessMs - 3.95)).toBeLessThan(Math.max(0.15, drum.ci95Ms));
  expect(drum.ci95Ms).toBeLessThan(0.5);
  expect(delays.find(({ channel }) => channel === 'drum')).toMatchObject({ from: 'takes' });
  // A notch at 2.5 s a turn is 1000·0.36/360·2.5/4 = 0.625 ms; the block later by 6 of them makes all else earlier.
  expect(at.ring?.proposed).toBe(6);
  expect(at.worstWithRingMs).toBeLessThan(at.worstMs / 4);
});

test('before anything was analysed it tells set-points, and says what is left out', async () => {
  const { status, out, err } = await run(['drive', root, '--tempo', '96']);
  expect(status).toBe(0);
  expect(err).toContain('1 of 1 takes are not analysed');
  expect(out).toContain('Motor set-point 2880');
  expect(out.replace(/\s+/g, ' ')).toContain('lateness is not known yet');
});

const faults: readonly (readonly [what: string, machine: string, args: string[], line: RegExp])[] = [
  ['no machine', whole, ['drive', '--tempo', '96'], /no machine was named/],
  ['no tempo', whole, ['drive', '.'], /no tempo was given; add it in beats a minute/],
  ['a tempo without a number', whole, ['drive', '.', '--tempo'], /--tempo needs a value/],
  ['a tempo that is none', whole, ['drive', '.', '--tempo', 'fast'], /--tempo: "fast" is no tempo/],
  ['a tempo of nothing', whole, ['drive', '.', '--tempo', '0'], /"0" is no tempo/],
  ['a misspelt option', whole, ['drive', '.', '--temp', '96'], /did you mean --tempo/],
  ['two machines', whole, ['drive', '.', '.', '--tempo', '96'], /one machine at a time/],
  ['no drive', machineText, ['drive', '.', '--tempo', '96'], /machine\.jsonc: drive: .*add "drive"/],
  [
    'a missing stage',
    withDrive('{ "beatsPerOutputTurn": 1, "stages": [] }'),
    ['drive', '.', '--tempo', '96'],
    /machine\.jsonc: drive\.stages: no stage stands between the motor and the output/,
  ],
];

test.each(faults)('%s is one line', async (_, machine, args, line) => {
  put(root, { 'machine.jsonc': machine });
  const { status, out, err } = await run(args, { cwd: root });
  expect([status, out]).toEqual([2, '']);
  expect(err).toMatch(line);
  expect(err.trimEnd().split('\n')).toHaveLength(1);
});
