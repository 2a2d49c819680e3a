import { describe, expect, test } from 'vitest';
import { coarseFit, maskOf, refineFit } from '../../analysis/hits/signal/align.ts';
import { clipOf, frameFor } from '../../analysis/hits/signal/clip.ts';
import { seededRandom } from '../../samples/random.ts';

const frame = frameFor(48_000);
const white = new Float64Array(frame.fourier.bins).fill(1);
/** exp(−t²/2w²) of height 1, the case of the Cramér–Rao bound below. */
const widthS = 0.0001;
const pulse = (delay: number) =>
  Float64Array.from({ length: frame.n }, (_, i) =>
    Math.exp(-(((i - frame.pre - delay) / 48_000 / widthS) ** 2) / 2),
  );
const mask = maskOf(frame.fourier.forward(pulse(0)), white, frame);

describe('laying a clip on a sound', () => {
  test.each([0, 0.25, -0.331, 0.5, 17.3, -40.77])('finds a delay of %f samples to a millionth', (delay) => {
    const clip = clipOf(0, pulse(delay), frame);
    const fit = refineFit(clip, mask, frame, coarseFit(clip, mask, frame, 0, frame.reach));
    expect(fit.delay).toBeCloseTo(delay, 6);
    expect(fit.gain).toBeCloseTo(1, 6);
  });

  test('reaches the Cramér–Rao bound in white noise', () => {
    // Kay 1993 §3.11: var ≥ σ²/Σ s′(nTs)²; for this pulse, σ = 0.01, 48 kHz: 0.4848 µs (recomputed; values.md).
    const sigma = 0.01;
    const boundUs = 0.4848;
    expect((1e6 / 48_000) * (sigma / Math.sqrt(mask.slopeEnergy))).toBeCloseTo(boundUs, 4);
    const random = seededRandom(11);
    const errors = Array.from({ length: 400 }, () => {
      const delay = random.between(-0.5, 0.5);
      const clip = clipOf(
        0,
        pulse(delay).map((x) => x + sigma * random.normal()),
        frame,
      );
      return refineFit(clip, mask, frame, coarseFit(clip, mask, frame, 0, 4)).delay - delay;
    });
    const rmsUs = (1e6 / 48_000) * Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
    // 400 draws (seed 11) know their standard deviation to 3.5 %.
    expect(rmsUs / boundUs).toBeGreaterThan(0.89);
    expect(rmsUs / boundUs).toBeLessThan(1.11);
  });

  test('where a parabola through three samples would be 0.119 sample wrong, it is not', () => {
    // values.md: p = d/(2 − 4d²) on a sampled sinc, worst at d = 0.331.
    const sinc = (delay: number) =>
      Float64Array.from({ length: frame.n }, (_, i) => {
        const x = i - frame.pre - delay;
        const window = Math.abs(x) < 400 ? 0.5 + 0.5 * Math.cos((Math.PI * x) / 400) : 0;
        return (x === 0 ? 1 : Math.sin(0.98 * Math.PI * x) / (0.98 * Math.PI * x)) * window;
      });
    const wide = maskOf(frame.fourier.forward(sinc(0)), white, frame);
    const clip = clipOf(0, sinc(0.331), frame);
    const fit = refineFit(clip, wide, frame, coarseFit(clip, wide, frame, 0, 4));
    expect(fit.delay).toBeCloseTo(0.331, 4);
  });
});
