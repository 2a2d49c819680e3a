import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  allanDeviation,
  modifiedAllanDeviation,
  overlappingAllanDeviation,
  phaseOf,
  timeDeviation,
} from '../../analysis/numbers/allan.ts';

interface Published {
  readonly m: readonly number[];
  readonly ADEV: readonly number[];
  readonly OADEV: readonly number[];
  readonly MDEV: readonly number[];
  readonly TDEV: readonly number[];
}
const read = (name: string) =>
  JSON.parse(readFileSync(new URL(`../reference/sp1065/${name}.json`, import.meta.url), 'utf8')) as unknown;

/** Agrees with a value printed to seven digits. */
function agrees(value: number, published: number) {
  expect(Math.abs(value / published - 1), `${value} against ${published}`).toBeLessThan(1e-6);
}

function compare(phase: Float64Array, { m, ADEV, OADEV, MDEV, TDEV }: Published) {
  m.forEach((factor, i) => {
    agrees(allanDeviation(phase, 1, factor), ADEV[i]);
    agrees(overlappingAllanDeviation(phase, 1, factor), OADEV[i]);
    agrees(modifiedAllanDeviation(phase, 1, factor), MDEV[i]);
    agrees(timeDeviation(phase, 1, factor), TDEV[i]);
  });
}

// W. J. Riley, NIST SP 1065 (2008), pp. 107–108; the values and the recipe are in tests/reference/sp1065
describe('NIST SP 1065', () => {
  it('1000-point set: Allan, overlapping, modified and time deviation at m = 1, 10, 100', () => {
    const { generator, check, published } = read('lcg-1000-point') as {
      generator: { seed: number; multiplier: number; modulus: number; count: number };
      check: { n999: number };
      published: Published;
    };
    const n = [generator.seed];
    while (n.length < generator.count) n.push((generator.multiplier * n[n.length - 1]) % generator.modulus);
    expect(n[999]).toBe(check.n999);
    compare(
      phaseOf(
        n.map((value) => value / generator.modulus),
        1,
      ),
      published,
    );
  });
  it('small set at m = 1, 2', () => {
    const { frequency, published } = read('small-10-point') as {
      frequency: number[];
      published: Published;
    };
    compare(phaseOf(frequency, 1), published);
  });
});

it('is NaN where the data are too short', () => {
  expect(overlappingAllanDeviation([0, 1, 2], 1, 2)).toBeNaN();
  expect(modifiedAllanDeviation([0, 1, 2], 1, 2)).toBeNaN();
});
it('does not see a steady rate', () => {
  const steady = Array.from({ length: 50 }, (_, i) => 3 + 0.5 * i);
  expect(overlappingAllanDeviation(steady, 1, 4)).toBeCloseTo(0, 12);
});
