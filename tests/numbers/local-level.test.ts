// The local level model against the Nile example of Durbin & Koopman; the data and its source: tests/reference/nile.
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { innovationsOf, levelLogLikelihood, levelSteps } from '../../analysis/numbers/local-level.ts';

const nile = JSON.parse(readFileSync('tests/reference/nile/nile.json', 'utf8')) as number[];
const withVariances = (noise: number, wander: number) => {
  const steps = levelSteps(
    new Float64Array(nile.length).fill(noise),
    new Float64Array(nile.length).fill(wander),
  );
  const { innovations, level } = innovationsOf(steps, nile);
  return { steps, level, innovations, logLikelihood: levelLogLikelihood(steps, innovations) };
};

it('the series is the published one', () => {
  expect(nile).toHaveLength(100);
  expect(nile.reduce((a, b) => a + b) / 100).toBeCloseTo(919.35, 9);
  expect(nile.indexOf(Math.min(...nile)) + 1871).toBe(1913);
});

it('has the published likelihood, steady variance and gain at the published variances', () => {
  const { steps, logLikelihood } = withVariances(15099, 1469.1);
  // The book cuts −632.5456 off after two places.
  expect(Math.trunc(logLikelihood * 100) / 100).toBe(-632.54);
  expect(steps.levelVariance[99]).toBeCloseTo(4032.16, 1);
  expect(steps.gain[99]).toBeCloseTo(0.267, 3);
});

it('is likeliest at the published variances', () => {
  const best = withVariances(15099, 1469.1).logLikelihood;
  for (const [noise, wander] of [
    [1.03, 1],
    [0.97, 1],
    [1, 1.1],
    [1, 0.9],
  ])
    expect(withVariances(15099 * noise, 1469.1 * wander).logLikelihood).toBeLessThan(best);
});

it('is plain averaging where nothing wanders, and the newest value where all is new', () => {
  expect(withVariances(15099, 0).level).toBeCloseTo(919.35, 6);
  expect(withVariances(15099, 1e15).level).toBeCloseTo(740, 4);
});
