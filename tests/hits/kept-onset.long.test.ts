// A slow attack in noise begins at another instant in every take, until its voice is kept.
import { expect, test } from 'vitest';
import { hear, voicesHeard } from '../../analysis/hits/hear.ts';
import { readSavedVoice, savedVoiceText } from '../../analysis/hits/learn/saved-voice.ts';
import { soundFrom } from '../../samples/place.ts';
import { rigMachine } from '../rig/machine.ts';
import { median, score } from '../rig/score.ts';
import { makeTake } from '../rig/take.ts';
import { strikesEvery, struck } from './synthetic.ts';

const sampleRate = 48_000;
/** A felt beater: its first hundredth of the peak is passed in the noise. */
const drum = soundFrom(
  'felt on a drum',
  Float32Array.from({ length: 9600 }, (_, i) => {
    const t = Math.max(0, i - 10) / sampleRate;
    return 0.5 * Math.min(1, t / 0.008) ** 3 * Math.exp(-t / 0.08) * Math.sin(2 * Math.PI * 90 * t);
  }),
  sampleRate,
);
const machine = rigMachine({ channels: ['drum'], seed: 3 });

function takeOf(sound: typeof drum, snrDb: number, seed: number) {
  const strikes = strikesEvery(0.4, 24, 0, seed);
  const options = { sampleRate, durationS: 11, strikes, sounds: [[sound]], tracks: [[0]], snrDb, seed };
  return { take: makeTake(machine, options).take, played: strikes.map(({ timeS }) => timeS) };
}

async function biasMs({ take, played }: ReturnType<typeof takeOf>, saved?: Parameters<typeof hear>[3]) {
  const { hits } = await hear(take, machine, {}, saved);
  return 1000 * median(score(played, [...hits.timeS]).errorsS);
}

test('takes in other noise begin where the kept voice does', async () => {
  const first = takeOf(drum, 30, 1);
  const saved = await voicesHeard(first.take, machine, {});
  const known = await biasMs(first);
  for (const [snrDb, seed] of [
    [20, 2],
    [26, 3],
    [40, 4],
  ]) {
    const other = takeOf(drum, snrDb, seed);
    expect(Math.abs((await biasMs(other, saved)) - known), `${snrDb} dB`).toBeLessThan(0.1);
  }
  // Told anew the first of them begins 0.75 ms later: it is the voice that makes the difference.
  expect((await biasMs(takeOf(drum, 20, 2))) - known).toBeGreaterThan(0.5);
});

test('a voice of another sound changes nothing', async () => {
  const [bell] = await voicesHeard(takeOf(struck(1400, 0.1), 30, 5).take, machine, {});
  const other = takeOf(drum, 26, 6);
  expect(await biasMs(other, [bell])).toBe(await biasMs(other));
});

/** The same beater, heard by another microphone: its tone's phase is another. */
const turned = soundFrom(
  'turned',
  drum.samples.map((x) => -x),
  sampleRate,
);

test('what lies a swing aside is not where it begins', async () => {
  const saved = await voicesHeard(takeOf(drum, 30, 1).take, machine, {});
  const other = takeOf(turned, 26, 8);
  expect(await biasMs(other, saved)).toBe(await biasMs(other));
});

test('a voice of nothing changes nothing', async () => {
  const [voice] = await voicesHeard(takeOf(drum, 30, 1).take, machine, {});
  const other = takeOf(drum, 26, 8);
  const nothing = { ...voice, samples: voice.samples.map(() => 0) };
  expect(await biasMs(other, [nothing])).toBe(await biasMs(other));
});

test('a voice saved anew begins where the one before it did', async () => {
  const before = await voicesHeard(takeOf(drum, 30, 1).take, machine, {});
  const other = takeOf(drum, 20, 2).take;
  const again = await voicesHeard(other, machine, {}, before);
  const third = takeOf(drum, 26, 7);
  expect(again[0].take).toBe(other.name);
  expect(readSavedVoice('drum.json', savedVoiceText(again[0]))).toEqual(again[0]);
  expect(again[0].samples).not.toEqual(before[0].samples);
  expect(Math.abs((await biasMs(third, again)) - (await biasMs(third, before)))).toBeLessThan(0.02);
});

test('nor is it cut off where it comes out of more noise', async () => {
  const before = await voicesHeard(takeOf(drum, 45, 1).take, machine, {});
  const noisy = await voicesHeard(takeOf(drum, 15, 2).take, machine, {}, before);
  expect(readSavedVoice('drum.json', savedVoiceText(noisy[0]))).toEqual(noisy[0]);
  const third = takeOf(drum, 26, 7);
  expect(Math.abs((await biasMs(third, noisy)) - (await biasMs(third, before)))).toBeLessThan(0.1);
});
