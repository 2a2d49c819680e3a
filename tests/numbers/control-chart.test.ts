import { describe, expect, it } from 'vitest';
import { normalDeviates } from './normal.ts';
import { controlChart, d2OfTwo } from '../../analysis/numbers/control-chart.ts';

describe('a control chart of single values', () => {
  // NIST/SEMATECH e-Handbook 6.3.2.2, flowrate example (values and results from memory)
  const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
  it('has the handbook’s limits', () => {
    const chart = controlChart(flow)!;
    expect(chart.middle).toBeCloseTo(50.81, 6);
    expect(chart.upper).toBeCloseTo(55.8041, 2);
    expect(chart.lower).toBeCloseTo(45.8159, 2);
    expect(chart.signals.every((signal) => signal === null)).toBe(true);
  });
  // d2 of 2, 3 … 6 values: table "Shewhart Constants for Control Charts" of Cano, Moguerza & Redchuk, "Six Sigma
  // with R" (Springer 2012), as printed in the vignette of their R package SixSigma
  const published = { d2: [1.1284, 1.6926, 2.0588, 2.3259, 2.5344] };
  it('uses the table’s d2 of two values, which is 2/√π', () => {
    expect(Math.abs(d2OfTwo - published.d2[0])).toBeLessThan(5e-4);
    expect(published.d2[0]).toBeCloseTo(2 / Math.sqrt(Math.PI), 4);
  });
  it('has limits that normal values are beyond as seldom as three sigmas are', () => {
    const next = normalDeviates(44);
    const charts = Array.from({ length: 60 }, () => controlChart(Array.from({ length: 400 }, next))!);
    const beyond = charts.reduce(
      (sum, { signals }) => sum + signals.filter((one) => one === 'beyond').length,
      0,
    );
    // 24 000 values, 0.0027 of them beyond: 65 ± 8, and a little more since sigma is estimated.
    expect(beyond, 'seed 44').toBeGreaterThan(40);
    expect(beyond, 'seed 44').toBeLessThan(95);
    const widths = charts.map(({ upper, lower }) => (upper - lower) / 6);
    expect(widths.reduce((a, b) => a + b, 0) / widths.length).toBeCloseTo(1, 1);
  });
  it('says which value is beyond, and where a run grows too long', () => {
    const steady = [0, 1, 0, 1, 0, 1, 0, 1, 0, 1];
    expect(controlChart([...steady, 9])!.signals.at(-1)).toBe('beyond');
    const worn = [
      ...Array.from({ length: 8 }, (_, i) => i % 2),
      ...Array.from({ length: 8 }, (_, i) => 2 + (i % 2)),
    ];
    expect(controlChart(worn)!.signals.at(-1)).toBe('run');
  });
  it('has no limits of three values', () => expect(controlChart([1, 2, 3])).toBeNull());
});
