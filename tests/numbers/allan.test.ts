import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { overlappingAllanDeviation } from '../../analysis/numbers/allan.ts';

interface Published {
  readonly m: readonly number[];
  readonly OADEV: readonly number[];
}
const read = (name: string) =>
  JSON.parse(readFileSync(new URL(`../reference/sp1065/${name}.json`, import.meta.url), 'utf8')) as unknown;

/** Agrees with a value printed to seven digits. */
function agrees(value: number, published: number) {
  expect(Math.abs(value / published - 1), `${value} against ${published}`).toBeLessThan(1e-6);
}

/** Phase from fractional frequencies a second apart: their running sum, one longer. */
function phaseOf(frequencies: readonly number[]): number[] {
  let phase = 0;
  return [0, ...frequencies.map((frequency) => (phase += frequency))];
}

function compare(phase: readonly number[], { m, OADEV }: Published) {
  m.forEach((factor, i) => agrees(overlappingAllanDeviation(phase, 1, factor), OADEV[i]));
}

// W. J. Riley, NIST SP 1065 (2008), pp. 107–108; the values and the recipe are in tests/reference/sp1065
describe('NIST SP 1065', () => {
  it('1000-point set: overlapping deviation at m = 1, 10, 100', () => {
    const { generator, check, published } = read('lcg-1000-point') as {
      generator: { seed: number; multiplier: number; modulus: number; count: number };
      check: { n999: number };
      published: Published;
    };
    const n = [generator.seed];
    while (n.length < generator.count) n.push((generator.multiplier * n[n.length - 1]) % generator.modulus);
    expect(n[999]).toBe(check.n999);
    compare(phaseOf(n.map((value) => value / generator.modulus)), published);
  });
  it('small set at m = 1, 2', () => {
    const { frequency, published } = read('small-10-point') as {
      frequency: number[];
      published: Published;
    };
    compare(phaseOf(frequency), published);
  });
});

it('is NaN where the data are too short', () => {
  expect(overlappingAllanDeviation([0, 1, 2], 1, 2)).toBeNaN();
});
it('does not see a steady rate', () => {
  const steady = Array.from({ length: 50 }, (_, i) => 3 + 0.5 * i);
  expect(overlappingAllanDeviation(steady, 1, 4)).toBeCloseTo(0, 12);
});
