// What sounds besides a voice in its strikes: another sound is told, chance is not.
import { expect, test } from 'vitest';
import { maskOf } from '../../analysis/hits/signal/align.ts';
import { backgroundOf } from '../../analysis/hits/signal/background.ts';
import { clipOf, frameFor } from '../../analysis/hits/signal/clip.ts';
import { polish, weigh } from '../../analysis/hits/learn/sounds.ts';
import { weightBeside } from '../../analysis/hits/learn/unexplained.ts';
import { seededRandom } from '../../samples/random.ts';

const sampleRate = 48_000;
const frame = frameFor(sampleRate);
const noise = 1e-3;
const knock = Float64Array.from({ length: frame.n }, (_, i) => {
  const t = (i - frame.pre) / sampleRate;
  return t < 0 ? 0 : 0.3 * Math.exp(-t / 0.01) * Math.sin(2 * Math.PI * 800 * t);
});

/** Weights beside a knock in so many strikes, over the background's: 1 where they are the same; null where all are. */
function shareOf(strikes: number, beside: (strike: number, i: number) => number, seed: number) {
  const random = seededRandom(seed);
  const room = () => noise * random.normal();
  const quiet = Array.from({ length: 64 }, () =>
    clipOf(0, Float64Array.from({ length: frame.n }, room), frame),
  );
  const background = backgroundOf(quiet, frame);
  const weighed = Array.from({ length: strikes }, (_, s) =>
    weigh(
      clipOf(
        0,
        knock.map((x, i) => x + room() + beside(s, i)),
        frame,
      ),
      background,
      frame,
    ),
  );
  const sound = polish(weighed, [...weighed.keys()], background, frame);
  const spectrum = frame.fourier.forward(knock);
  const mask = maskOf(spectrum, background.weight, frame);
  const weight = weightBeside(sound, weighed, { spectrum, mask }, background, frame);
  return weight && weight.map((w, k) => (w === background.weight[k] ? 1 : w / background.weight[k]));
}

test.each([4, 8, 48])('%i strikes in white noise: nothing', (strikes) => {
  const seeds = Array.from({ length: 10 }, (_, i) => i + 1);
  const told = seeds.filter((seed) => shareOf(strikes, () => 0, seed) !== null);
  expect(told.length, `seeds ${told.join()}`).toBe(0);
});

test.each([8, 48])('%i strikes and a tone at another place in each: its bins count less', (strikes) => {
  const tone = (s: number, i: number) => 0.01 * Math.sin((2 * Math.PI * 2500 * i) / sampleRate + 2.4 * s);
  const share = shareOf(strikes, tone, 1)!;
  const bin = Math.round((2500 * frame.n) / sampleRate);
  // The tone draws the fits a little aside, and so the knock leaves a trace of itself.
  const knockBin = Math.round((800 * frame.n) / sampleRate);
  expect(share[bin]).toBeLessThan(0.01);
  share.forEach((one, k) => {
    if (Math.abs(k - bin) > 8 && Math.abs(k - knockBin) > 8) expect(one, `bin ${k}`).toBe(1);
  });
});
