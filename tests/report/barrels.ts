/** Larger made-up reports, the same for the same numbers. */
import type { Group, HitRow, Report } from '../../analysis/results/results.ts';
import { exampleReport, hit } from './example.ts';

/** A small repeatable source of numbers from 0 to 1 (Park & Miller 1988: 16807 mod 2³¹ − 1). */
export function numbersFrom(seed: number): () => number {
  let state = seed % 2147483647 || 1;
  return () => (state = (state * 16807) % 2147483647) / 2147483647;
}

/** Channels × sectors with `turns` turns of `pinsASector` pins, offsets up to a few ms. */
export function barrelReport(
  channelCount: number,
  sectorCount: number,
  turns: number,
  pinsASector: number,
  seed = 7,
): Report {
  const next = numbersFrom(seed);
  const normal = () => Math.sqrt(-2 * Math.log(next())) * Math.cos(2 * Math.PI * next());
  const stepsASector = 40;
  const sectors = Array.from({ length: sectorCount }, (_, i) => ({
    id: sectorCount > 26 ? `${i + 1}` : String.fromCharCode(65 + i),
    from: i * stepsASector,
  }));
  const channels = Array.from({ length: channelCount }, (_, i) => ({
    id: `striker-${i + 1}`,
    name:
      ['Wood block', 'Low drum', 'Gong, near mallet', 'Gong, far mallet', 'Rim clapper', 'Bell plate'][i] ??
      `Striker ${i + 1}`,
    toleranceMs: i % 5 === 1 ? 3 : 2,
    reference: i === 0,
    onBarrel: i !== 0,
  }));
  const hits: HitRow[] = [];
  const groups: Group[] = [];
  for (const { id, reference } of channels) {
    const lean = reference ? 0 : 1.6 * normal();
    for (const sector of sectors) {
      const offset = reference ? 0 : lean + 1.5 * normal();
      const values: number[] = [];
      for (let pin = 0; pin < pinsASector; pin++) {
        const pinMs = offset + (reference ? 0.05 : 0.5) * normal();
        const step = sector.from + Math.floor(((pin + next()) / pinsASector) * stepsASector);
        for (let turn = 0; turn < turns; turn++) {
          const latenessMs = pinMs + 0.3 * normal();
          values.push(latenessMs);
          hits.push(hit(id, sector.id, latenessMs, { step, turn, timeS: turn * 30 + step / 16 }));
        }
      }
      const mean = values.reduce((a, b) => a + b, 0) / Math.max(1, values.length);
      const known = values.length > 2;
      groups.push({
        channel: id,
        sector: sector.id,
        count: values.length,
        meanMs: known ? mean : null,
        medianMs: known ? mean : null,
        sdMs: known ? 0.6 : null,
        ci95Ms: known ? 0.65 / Math.sqrt(values.length) + 0.05 : null,
        pinSdMs: known ? 0.5 : null,
        repeatabilityMs: known ? 0.3 : null,
      });
    }
  }
  const report = exampleReport();
  return {
    ...report,
    channels,
    barrel: { steps: sectorCount * stepsASector, stepsPerBeat: 4, sectors },
    hits,
    groups,
    pins: [],
  };
}
