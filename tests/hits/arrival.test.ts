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

/** A gong of four tones that swells as the square of a sine, its beginning at −10 ms; noise at a share of its peak. */
function swelling(swellMs: number, noise: number, seed: number): Float64Array {
  const random = seededRandom(seed);
  const tones = [180, 291, 407, 533].map((hz) => ({ hz, phase: random.between(0, 2 * Math.PI) }));
  return Float64Array.from({ length: frame.n }, (_, i) => {
    const t = (i - frame.pre) / frame.sampleRate + 0.01;
    const swell = t < 0 ? 0 : Math.sin((Math.PI / 2) * Math.min(1, (1000 * t) / swellMs)) ** 2;
    const sum = tones.reduce((all, { hz, phase }) => all + Math.sin(2 * Math.PI * hz * t + phase), 0);
    return noise * random.normal() + (swell * sum) / tones.length;
  });
}

// Of these 36 half began within their intervals while only the waveform's first doubling was looked at.
test('of a sound that swells, what the background hides is in how well its beginning is known', () => {
  const held: boolean[] = [];
  for (const swellMs of [10, 20, 40])
    for (const noise of [0.003, 0.01, 0.02])
      for (const seed of [1, 2, 3, 4]) {
        const heard = swelling(swellMs, noise, seed);
        // By definition it begins at 1 % of its peak: sin² is there after 0.064 of the swell.
        const trueMs = -10 + 0.064 * swellMs;
        const { at, sd } = firstArrival(heard, backgroundOf([], frame), frame);
        held.push(Math.abs(ms(at) - trueMs) <= (1.96 * 1000 * sd) / frame.sampleRate);
      }
  expect(held.filter(Boolean).length).toBeGreaterThanOrEqual(0.8 * held.length);
});

test('of a sharp sound nothing is added', () => {
  const { sd } = firstArrival(strike(), backgroundOf([], frame), frame);
  expect((1000 * sd) / frame.sampleRate).toBeLessThan(0.02);
});

test.each([100, 200])('where a sound of %d ms of swell begins is not told at all', (swellMs) => {
  for (const seed of [1, 2, 3]) {
    const { sd } = firstArrival(swelling(swellMs, 0.003, seed), backgroundOf([], frame), frame);
    expect((1000 * sd) / frame.sampleRate).toBeGreaterThan(25);
  }
});
