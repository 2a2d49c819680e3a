import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fitSinusoid, orthonormal } from '../../analysis/numbers/sinusoid.ts';
import { normalDeviates } from './normal.ts';

// SciPy's lombscargle on the same samples; made by tests/reference/scipy/lomb-scargle.py
const scipy = JSON.parse(
  readFileSync(new URL('../reference/scipy/lomb-scargle.json', import.meta.url), 'utf8'),
) as { times: number[]; values: number[]; frequencies: number[]; power: number[]; evenSine: number };

// Twice Scargle's power is by how much the squares of the values fall when a sine and a cosine are taken off.
describe('a sinusoid alone', () => {
  it('leaves what SciPy’s power says, on uneven samples', () => {
    const squares = scipy.values.reduce((sum, value) => sum + value * value, 0);
    scipy.frequencies.forEach((frequency, i) => {
      const { left } = fitSinusoid(scipy.times, scipy.values, frequency, [])!;
      expect(Math.abs((squares * (1 - left)) / (2 * scipy.power[i]) - 1)).toBeLessThan(1e-9);
    });
  });
  it('has SciPy’s power N·A²/4 on even samples at a Fourier frequency', () => {
    const times = Array.from({ length: 64 }, (_, i) => i);
    const values = times.map((t) => 1.7 * Math.sin((2 * Math.PI * 5 * t) / 64));
    const { amplitude } = fitSinusoid(times, values, 5 / 64, [])!;
    expect(amplitude).toBeCloseTo(1.7, 9);
    expect((64 * amplitude ** 2) / 4).toBeCloseTo(scipy.evenSine, 9);
  });
});

describe('a sinusoid among trends', () => {
  const times = Array.from({ length: 80 }, (_, i) => i + 0.3 * Math.sin(7 * i));
  const trends = orthonormal([times.map(() => 1), times]);
  it('is found exactly where nothing else is there', () => {
    const values = times.map((t) => 5 - 0.2 * t + 0.7 * Math.cos(2 * Math.PI * 0.13 * t - 0.4));
    const fit = fitSinusoid(times, values, 0.13, trends)!;
    expect(fit.amplitude).toBeCloseTo(0.7, 9);
    expect(fit.phase).toBeCloseTo(0.4, 9);
    expect(fit.p).toBeLessThan(1e-100);
  });
  it('cannot be told from a constant where every sample meets the same angle', () => {
    const whole = Array.from({ length: 40 }, (_, i) => i);
    expect(fitSinusoid(whole, whole, 2, orthonormal([whole.map(() => 1)]))).toBeNull();
  });
  it('is claimed in noise as often as p says', () => {
    const next = normalDeviates(31);
    const rounds = 4000;
    let below = 0;
    for (let i = 0; i < rounds; i++)
      if (fitSinusoid(times, Array.from(times, next), 0.21, trends)!.p < 0.05) below++;
    // three standard deviations of 4000 throws at 5 %: 1.03 %
    expect(Math.abs(below / rounds - 0.05), 'seed 31').toBeLessThan(0.0104);
  });
});
