import { describe, expect, test } from 'vitest';
import { hear, voicesHeard } from '../../analysis/hits/hear.ts';
import { labelledTime } from '../../analysis/hits/expect/named.ts';
import { readSavedVoice, savedVoiceText } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { unknownSound } from '../../analysis/checks/recording.ts';
import type { Study } from '../../analysis/checks/check.ts';
import { play } from '../../samples/play.ts';
import { soundFrom } from '../../samples/place.ts';
import { seededRandom } from '../../samples/random.ts';
import { withLabelStub } from '../../extension/common/label-stub.ts';
import type { Report } from '../../analysis/results/results.ts';
import { rigMachine } from '../rig/machine.ts';
import { score } from '../rig/score.ts';
import { makeTake } from '../rig/take.ts';
import { strikesEvery, struck } from './synthetic.ts';

const sampleRate = 48_000;
const ids = ['block', 'drum', 'bell'];
const sounds = [struck(900, 0.1), struck(140, 0.12), tunedBar(520)];

/** A bar tuned so that its second mode is two octaves above its first. */
function tunedBar(hz: number) {
  const samples = Float32Array.from({ length: 9600 }, (_, i) => {
    const t = (i - 10) / sampleRate;
    if (t < 0) return 0;
    const body = Math.sin(2 * Math.PI * hz * t) + 0.3 * Math.exp(-t / 0.02) * Math.sin(8 * Math.PI * hz * t);
    return 0.3 * (1 - Math.exp(-t / 0.0001)) * Math.exp(-t / 0.04) * body;
  });
  return soundFrom('tuned bar', samples, sampleRate);
}

/** The bell never strikes but with the drum. */
function together(): Machine {
  const machine = rigMachine({ channels: ids, seed: 5 });
  const others = machine.pins.filter(
    ({ channel, step }) => channel === 0 || (channel === 1 && step % 4 !== 0),
  );
  const bells = others
    .filter(({ channel, step }) => channel === 1 && step < 48)
    .map((pin) => ({ ...pin, channel: 2 }));
  return {
    ...machine,
    pins: [...others, ...bells].sort((a, b) => a.step - b.step || a.channel - b.channel),
  };
}

function takeOn(
  machine: Machine,
  tracks: number[][],
  strikes: ReturnType<typeof play>['strikes'],
  assigned = true,
) {
  const last = strikes.at(-1)!.timeS;
  return makeTake(machine, {
    sampleRate,
    durationS: last + 0.8,
    strikes,
    sounds: sounds.map((sound) => [sound]),
    tracks,
    snrDb: 40,
    gainDb: 2,
    assigned,
    seed: 3,
  }).take;
}

const timesOf = (hits: { timeS: Float64Array; channel: Int32Array }, channel: number) =>
  [...hits.timeS].filter((_, i) => hits.channel[i] === channel);

describe('a voice saved from a solo take', () => {
  test('is the same after it was written and read, and small', async () => {
    const machine = together();
    const solo = takeOn(machine, [[2]], strikesEvery(0.5, 12, 2, 1));
    const [voice, ...more] = await voicesHeard(solo, machine, {});
    expect(more).toEqual([]);
    expect(voice).toMatchObject({ channel: 'bell', sampleRate, strikes: 12 });
    const text = savedVoiceText(voice);
    expect(readSavedVoice('voices/bell.json', text)).toEqual(voice);
    expect(text.length).toBeLessThan(40_000);
    expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThan(250);
  });

  test('lets a channel be heard that never strikes alone', async () => {
    const machine = together();
    const truth = { channelMs: { bell: 9, drum: 3 }, repeatabilityMs: { block: 0.3, drum: 0.5, bell: 0.5 } };
    const { strikes } = play(machine, truth, { bpm: 100, turns: 3 }, seededRandom(7));
    const mix = takeOn(machine, [[0, 1, 2]], strikes);
    const saved = await voicesHeard(takeOn(machine, [[2]], strikesEvery(0.5, 12, 2, 1)), machine, {});
    const { hits } = await hear(mix, machine, {}, saved);
    for (const channel of [0, 1, 2]) {
      const played = strikes.filter((s) => s.channel === channel).map((s) => s.timeS);
      const { f1, spreadUs, biasMs } = score(played, timesOf(hits, channel));
      expect(f1).toBeGreaterThanOrEqual(0.97);
      expect(spreadUs).toBeLessThan(150);
      expect(Math.abs(biasMs)).toBeLessThan(0.3);
    }
  });

  test.each([
    ['{', 'is not JSON'],
    ['{"schema":2}', 'schema'],
    [
      '{"schema":1,"channel":"a","take":"t","sampleRate":48000,"strikes":3,"onset":1,"spread":0,"peak":1,"samples":[1,1e9]}',
      'samples.1',
    ],
  ])('%s is refused with its place', (text, place) => {
    expect(() => readSavedVoice('voices/a.json', text)).toThrow(place);
    expect(() => readSavedVoice('voices/a.json', text)).toThrow('shimwright voices');
  });
});

describe('sounds that no rhythm names', () => {
  // Strikes at random times: no rotation of this pattern explains them.
  const machine = rigMachine({ channels: ids, seed: 5 });
  const random = seededRandom(11);
  const scattered = [0, 1, 2]
    .flatMap((channel) =>
      strikesEvery(0.7, 14, channel, 20 + channel).map((s) => ({
        ...s,
        timeS: s.timeS + random.between(0, 0.55),
      })),
    )
    .sort((a, b) => a.timeS - b.timeS);
  const take = takeOn(machine, [[0, 1, 2]], scattered);

  test('are asked about, with an example each and a pitch where there is one', async () => {
    const { unknown } = await hear(take, machine, {});
    expect(unknown!.length).toBeGreaterThanOrEqual(3);
    const asked = unknownSound.run({
      machine,
      take,
      hearing: await hear(take, machine, {}),
    } as unknown as Study);
    expect(asked.length).toBeGreaterThanOrEqual(3);
    for (const { place, message } of asked) {
      expect(labelledTime(place!)).toBeGreaterThan(0);
      expect(message).toContain('belongs to no channel');
    }
    const owner = (timeS: number) =>
      scattered.reduce((a, b) => (Math.abs(a.timeS - timeS) < Math.abs(b.timeS - timeS) ? a : b)).channel;
    expect(new Set(unknown!.map(({ timeS }) => owner(timeS)))).toEqual(new Set([0, 1, 2]));
    const bell = unknown!.filter(({ timeS }) => owner(timeS) === 2).map(({ pitchHz }) => pitchHz);
    expect(bell.some((hz) => hz !== null && Math.abs(hz - 520) < 15)).toBe(true);
  });

  test('are known once a person named one strike of each', async () => {
    const { unknown } = await hear(take, machine, {});
    const owner = (timeS: number) =>
      scattered.reduce((a, b) => (Math.abs(a.timeS - timeS) < Math.abs(b.timeS - timeS) ? a : b)).channel;
    const labels = Object.fromEntries(
      unknown!.map(({ timeS }) => [`${timeS.toFixed(2)} s`, ids[owner(timeS)]]),
    );
    const named = { ...take, description: { ...take.description, labels } };
    const { hits, unknown: left } = await hear(named, machine, {});
    expect(left).toEqual([]);
    // Two drums fall into the bell's ring, 22 and 44 ms after it struck.
    expect(hits.count).toBeGreaterThanOrEqual(scattered.length - 2);
    expect([...hits.timeS].every((timeS, i) => hits.channel[i] === owner(timeS))).toBe(true);
  });

  test('or once their voices were saved from another take', async () => {
    const saved = [];
    for (const channel of [0, 1, 2])
      saved.push(
        ...(await voicesHeard(
          takeOn(machine, [[channel]], strikesEvery(0.5, 12, channel, channel)),
          machine,
          {},
        )),
      );
    const { unknown } = await hear(take, machine, {}, saved);
    expect(unknown).toEqual([]);
  });
});

test('the questions are put into take.jsonc, and nothing else of it is touched', () => {
  const report = {
    findings: [
      { kind: 'unknown-sound', place: '1.23 s' },
      { kind: 'unknown-sound', place: '4.50 s' },
      { kind: 'rebound', place: '9.00 s' },
    ],
  } as unknown as Report;
  const before =
    '{\n  // oiled yesterday\n  "tempo": 96,\n  "labels": { "4.52 s": "bell", "A": "drum" }\n}\n';
  const after = withLabelStub(before, report)!;
  expect(after).toContain('// oiled yesterday');
  expect(after).toContain('"1.23 s": ""');
  expect(after).not.toContain('"4.50 s"');
  expect(after).not.toContain('9.00');
  expect(withLabelStub(after, report)).toBeNull();
  expect(JSON.parse(withLabelStub(null, report)!)).toEqual({ labels: { '1.23 s': '', '4.50 s': '' } });
});
