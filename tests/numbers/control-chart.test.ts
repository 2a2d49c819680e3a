import { describe, expect, it } from 'vitest';
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
  it('uses d2 = 2/√π to the table’s digits', () => {
    expect(d2OfTwo).toBeCloseTo(2 / Math.sqrt(Math.PI), 3);
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
