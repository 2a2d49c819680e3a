import { expect, test } from 'vitest';
import { coloured } from '../../samples/colour.ts';
import { bandLimited, firstAbove, place, resampled, soundFrom, type Sound } from '../../samples/place.ts';
import { seededRandom } from '../../samples/random.ts';

const rate = 48_000;

/** A Gaussian-windowed tone has a closed form at any time: its value between samples is known exactly. */
function toneAt(hz: number, n: number, centre: number, sampleRate = rate): number {
  const t = (n - centre) / sampleRate;
  return Math.exp(-0.5 * (t / 0.002) ** 2) * Math.cos(2 * Math.PI * hz * t);
}

function tone(hz: number, sampleRate = rate): Sound {
  const samples = Float32Array.from({ length: 2400 }, (_, n) => toneAt(hz, n, 1200, sampleRate));
  return { name: `${hz} Hz`, samples, sampleRate, onset: 1200 };
}

test.each([50, 1000, 10_000, 21_000])(
  'a %i Hz burst lands between samples within −96 dB of its closed form',
  (hz) => {
    for (const at of [1500, 1500.25, 1500.5, 1500.987]) {
      const track = new Float32Array(4000);
      place(track, rate, tone(hz), at / rate);
      const worst = track.reduce((max, x, n) => Math.max(max, Math.abs(x - toneAt(hz, n, at))), 0);
      expect(20 * Math.log10(worst)).toBeLessThan(-96);
    }
  },
);

test('timing of placed strikes, read off the phase at the middle of the band, is exact to a nanosecond', () => {
  for (const at of [900.1, 900.37, 901.73]) {
    const track = new Float32Array(4000);
    place(track, rate, tone(3000), at / rate);
    let re = 0;
    let im = 0;
    track.forEach((x, n) => {
      re += x * Math.cos((2 * Math.PI * 3000 * n) / rate);
      im -= x * Math.sin((2 * Math.PI * 3000 * n) / rate);
    });
    const cycle = rate / 3000;
    const found = (-Math.atan2(im, re) / (2 * Math.PI)) * cycle;
    const error = found - at - cycle * Math.round((found - at) / cycle);
    expect(Math.abs(error / rate)).toBeLessThan(1e-9);
  }
});

test('resampling keeps the waveform within −90 dB', () => {
  const out = resampled(tone(5000, 44_100), rate);
  const lead = Math.ceil((32 * rate) / 44_100);
  const centre = lead + (1200 * rate) / 44_100;
  const worst = out.samples.reduce((max, x, n) => Math.max(max, Math.abs(x - toneAt(5000, n, centre))), 0);
  expect(20 * Math.log10(worst)).toBeLessThan(-90);
});

test('what is left above 0.9 of Nyquist after bandLimited is below −90 dB, and what is below half of it untouched', () => {
  const gain = (hz: number) => {
    const out = bandLimited(tone(hz)).samples;
    return (
      10 *
      Math.log10(out.reduce((sum, x) => sum + x * x, 0) / tone(hz).samples.reduce((sum, x) => sum + x * x, 0))
    );
  };
  expect(gain(21_800)).toBeLessThan(-90);
  expect(Math.abs(gain(12_000))).toBeLessThan(0.01);
});

test('the onset is the first sample above 1 % of the peak', () => {
  expect(firstAbove(Float32Array.of(0, 0.009, -0.0101, 1), 0.01)).toBe(2);
  expect(firstAbove(new Float32Array(3), 0.01)).toBe(3);
  expect(soundFrom('x', Float32Array.of(0, 0, 1), rate).onset).toBe(2);
});

test('colour changes the sound by the dB asked for and not its place; zero phase keeps its symmetry', () => {
  const sound = tone(1000);
  const range = { shelfDb: 2, resonanceDb: 3, shelfHz: 3000, resonanceHz: [300, 6000] } as const;
  const random = seededRandom(11);
  for (let i = 0; i < 20; i++) {
    const other = coloured(sound, random, { ...range, phase: 'minimum' });
    const peak = Math.max(...other.samples.map(Math.abs));
    expect(other.onset).toBe(sound.onset);
    expect(Math.abs(20 * Math.log10(peak))).toBeLessThan(5);
    const even = coloured(sound, random, { ...range, phase: 'zero' }).samples;
    for (let k = 1; k < 300; k++) expect(Math.abs(even[1200 + k] - even[1200 - k])).toBeLessThan(1e-6);
  }
});
