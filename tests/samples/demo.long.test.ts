import { readdirSync, readFileSync } from 'node:fs';
import { WaveFile } from 'wavefile';
import { beforeAll, expect, test } from 'vitest';
import { readJsonc } from '../../analysis/input/jsonc.ts';
import { takeSchema } from '../../analysis/take/schema.ts';
import { demoRounds, playRound } from '../../samples/demo-truth.ts';
import { demoFiles, demoMachine } from '../../samples/make.ts';

const files = new Map<string, Uint8Array>();
const text = (path: string) => new TextDecoder().decode(files.get(path));

beforeAll(async () => {
  for await (const { path, bytes } of demoFiles()) files.set(path, bytes);
});

/** FNV-1a, 32 bits, over bytes: to compare tens of megabytes without keeping both. */
function digest(bytes: Uint8Array): number {
  let hash = 0x811c9dc5;
  for (const byte of bytes) hash = Math.imul(hash ^ byte, 0x01000193);
  return hash >>> 0;
}

test('the folder holds what a machine folder holds, below 60 MB', async () => {
  const names = [...files.keys()];
  expect(names.slice(0, 4)).toEqual(['machine.jsonc', 'pattern.csv', 'CALIBRATION.md', 'notes/build.md']);
  for (const { name } of demoRounds(await demoMachine())) {
    expect(names).toContain(`takes/${name}/take.jsonc`);
    const description = readJsonc('take.jsonc', text(`takes/${name}/take.jsonc`), takeSchema).value;
    for (const { file } of description.tracks!) expect(names).toContain(`takes/${name}/${file}`);
  }
  const total = [...files.values()].reduce((sum, bytes) => sum + bytes.length, 0);
  expect(total).toBeLessThan(60e6);
});

test('the same bytes each time', async () => {
  for await (const { path, bytes } of demoFiles()) {
    expect(digest(bytes), path).toBe(digest(files.get(path)!));
    if (path === 'takes/1-as-built/take.jsonc') break;
  }
});

test('nothing in samples/ touches a host', () => {
  for (const file of readdirSync('samples').filter((name) => name.endsWith('.ts')))
    expect(readFileSync(`samples/${file}`, 'utf8'), file).not.toMatch(
      /from '(node:|fs|path|vscode)|process\.|Date|Math\.random/,
    );
});

test('the audio is 48 kHz, 16 bits, never at full scale, and as long as the performance', async () => {
  const machine = await demoMachine();
  for (const round of demoRounds(machine)) {
    const { durationS } = playRound(machine, round);
    for (const path of [...files.keys()].filter(
      (name) => name.startsWith(`takes/${round.name}/`) && name.endsWith('.wav'),
    )) {
      const wav = new WaveFile(files.get(path));
      const tracks = [wav.getSamples(false)].flat();
      expect([(wav.fmt as { sampleRate: number }).sampleRate, wav.bitDepth], path).toEqual([48_000, '16']);
      for (const track of tracks) {
        expect(track.length / 48_000).toBeCloseTo(durationS, 3);
        expect(
          track.reduce((max, x) => Math.max(max, Math.abs(x)), 0),
          path,
        ).toBeLessThan(32_000);
      }
    }
  }
});

test('where the truth says the block struck, the sound begins', async () => {
  const machine = await demoMachine();
  const [round] = demoRounds(machine);
  const wood = new WaveFile(files.get('takes/1-as-built/wood.wav')).getSamples(false);
  const rms = (from: number, to: number) =>
    Math.sqrt(wood.subarray(from, to).reduce((sum, x) => sum + x * x, 0) / (to - from));
  const blocks = playRound(machine, round).strikes.filter(
    (strike) => strike.channel === 0 && strike.timeS > 0.1,
  );
  expect(blocks.length).toBeGreaterThan(125);
  const louder = blocks.filter(({ timeS }) => {
    const at = Math.round(timeS * 48_000);
    // A millisecond of it against the ten before: block and bleed never begin within the ten on this track.
    return rms(at, at + 48) > 5 * rms(at - 480, at - 10);
  });
  expect(louder.length / blocks.length).toBeGreaterThan(0.95);
});

test('strokes played and true means agree within what chance allows, in every group', async () => {
  const machine = await demoMachine();
  const { sectors } = machine.description.barrel;
  for (const round of demoRounds(machine)) {
    const played = playRound(machine, round);
    const [whole] = played.groups.filter(
      (group) => group.channel === machine.reference && group.sector === null,
    );
    expect(Math.abs(whole.meanMs)).toBeLessThan(1e-9);
    for (const group of played.groups) {
      const { id } = machine.description.channels[group.channel];
      const strokes = played.strikes.filter(
        (strike) =>
          strike.channel === group.channel &&
          strike.pinned === 'right' &&
          (group.sector === null ||
            sectors.findLastIndex((sector) => sector.from <= strike.step) === group.sector),
      );
      expect(strokes).toHaveLength(group.strokes);
      const mean = strokes.reduce((sum, strike) => sum + strike.trueLatenessMs, 0) / strokes.length;
      const sd = round.truth.repeatabilityMs![id];
      expect(Math.abs(mean - group.strokesMeanMs), `${round.name} ${id}`).toBeLessThan(
        (5 * sd) / Math.sqrt(strokes.length),
      );
    }
  }
});

test('each round is better than the one before, and the last leaves something to do', async () => {
  const machine = await demoMachine();
  const outOfTolerance = demoRounds(machine).map(
    (round) =>
      playRound(machine, round).groups.filter(
        ({ channel, sector, meanMs }) =>
          sector !== null && Math.abs(meanMs) > machine.description.channels[channel].toleranceMs,
      ).length,
  );
  expect(outOfTolerance[0]).toBeGreaterThan(outOfTolerance[1]);
  expect(outOfTolerance[1]).toBeGreaterThan(outOfTolerance[2]);
  expect(outOfTolerance[2]).toBeGreaterThan(0);
});

test('the truth holds a misplaced pin until the last round, missing strikes and one too many', async () => {
  const machine = await demoMachine();
  const rounds = demoRounds(machine).map((round) => playRound(machine, round).strikes);
  expect(rounds.map((strikes) => strikes.some((strike) => strike.pinned === 'misplaced'))).toEqual([
    true,
    true,
    false,
  ]);
  expect(rounds[0].filter((strike) => strike.pinned === 'none')).toHaveLength(1);
  const second = playRound(machine, demoRounds(machine)[1]);
  expect(second.missing.filter(({ step }) => step === 92).length).toBe(3);
});
