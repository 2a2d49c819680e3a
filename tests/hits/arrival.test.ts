import { expect, test } from 'vitest';
import { firstArrival } from '../../analysis/hits/learn/arrival.ts';
import { backgroundOf } from '../../analysis/hits/signal/background.ts';
import { frameFor } from '../../analysis/hits/signal/clip.ts';
import { seededRandom } from '../../samples/random.ts';

const frame = frameFor(48_000);
const ms = (samples: number) => (1000 * (samples - frame.pre)) / frame.sampleRate;

/** A decaying tone from the frame's moment on, over noise 60 dB below its peak. */
function strike(): Float64Array {
  const random = seededRandom(7);
  return Float64Array.from({ length: frame.n }, (_, i) => {
    const t = (i - frame.pre) / frame.sampleRate;
    return 0.001 * random.normal() + (t < 0 ? 0 : Math.cos(2 * Math.PI * 900 * t) * Math.exp(-t / 0.02));
  });
}

test('the first arrival is where the attack begins', () => {
  expect(Math.abs(ms(firstArrival(strike(), backgroundOf([], frame), frame).at))).toBeLessThan(0.05);
});

test.each([-15, -8, -4])(
  'what stands out %d ms before it and is silent again is not of the attack',
  (atMs) => {
    const heard = strike();
    heard[frame.pre + (atMs * frame.sampleRate) / 1000] = 0.2;
    expect(Math.abs(ms(firstArrival(heard, backgroundOf([], frame), frame).at))).toBeLessThan(0.05);
  },
);

test('a click a millisecond before the body sounds is the attack’s own', () => {
  const heard = strike();
  heard[frame.pre - 48] = 0.2;
  expect(ms(firstArrival(heard, backgroundOf([], frame), frame).at)).toBeCloseTo(-1, 1);
});
