// Which machine a recording is of, where voices must tell, and of what is no machine: seconds each.
import { expect, test } from 'vitest';
import { voicesHeard } from '../../analysis/hits/hear.ts';
import { seededRandom } from '../../samples/random.ts';
import { addNoise } from '../../samples/record.ts';
import { speech } from '../rig/room.ts';
import { makeTake, trackOf } from '../rig/take.ts';
import { inShort, judged, machineNamed, recorded, sampleRate, strikers } from './machines-heard.ts';

const machines = [machineNamed(10), machineNamed(11), machineNamed(12, 64)];
const second = machines[1];
const usual = { bpm: 112, turns: 3, snrDb: 25 };

test('machines of one pattern are told apart by saved voices alone, and only where both have some', async () => {
  const count = second.description.channels.length;
  const of = (tuned: number, seed: number) =>
    recorded({ machine: second, sounds: strikers(count, tuned), ...usual, seed });
  const solo = (tuned: number) => voicesHeard({ ...of(tuned, 41), ...ownTracks(tuned, 41) }, second, {});
  const [ours, theirs] = [await solo(1), await solo(1.3)];
  expect(ours.length).toBeGreaterThan(1);
  expect(theirs.length).toBeGreaterThan(1);
  const twins = [second, { ...second }];
  expect(inShort(await judged(of(1, 43), twins, [ours, theirs]))).toBe('fits 0 by voices');
  expect(inShort(await judged(of(1.3, 44), twins, [ours, theirs]))).toBe('fits 1 by voices');
  expect(inShort(await judged(of(1, 43), twins, [ours, []]))).toBe('either 0, 1');
  expect(inShort(await judged(of(1, 43), twins))).toBe('either 0, 1');
  // Of a third make: neither is like it.
  expect(inShort(await judged(of(0.6, 45), twins, [ours, theirs]))).toBe('either 0, 1');
});

/** The machine's take with a microphone for each striker. */
function ownTracks(tuned: number, seed: number) {
  const channels = [...second.description.channels.keys()];
  const strikes = channels.flatMap((channel) =>
    Array.from({ length: 12 }, (_, i) => ({
      timeS: 0.5 + 1.2 * i + 0.17 * channel,
      channel,
      step: 0,
      foundStep: 0,
      turn: 0,
      trueLatenessMs: 0,
      pinned: 'right' as const,
    })),
  );
  return {
    tracks: makeTake(second, {
      sampleRate,
      durationS: 16,
      strikes,
      sounds: strikers(channels.length, tuned).map((sound) => [sound]),
      tracks: channels.map((c) => [c]),
      snrDb: 40,
      seed,
    }).take.tracks,
  };
}

test('someone talking, a steady beat, noise and silence are no machine', async () => {
  const length = 60 * sampleRate;
  const heard = async (samples: Float32Array) =>
    inShort(await judged({ tracks: [trackOf(samples, sampleRate, [])] }, machines));
  expect(await heard(speech(length, sampleRate, 3))).toBe('none: no-pattern');
  const noise = new Float32Array(length);
  addNoise(noise, 0.02, seededRandom(1));
  expect(await heard(noise)).toBe('none: few-strikes');
  expect(await heard(new Float32Array(length))).toBe('none: few-strikes');
  const beat = new Float32Array(length);
  const [{ samples }] = strikers(1);
  for (let k = 0; k < 110; k++) beat.set(samples, Math.round((0.2 + 0.53 * k) * sampleRate));
  expect(await heard(beat)).toBe('none: no-pattern');
});
