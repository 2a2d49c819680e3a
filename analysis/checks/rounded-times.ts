import { finding } from '../results/catalogue.ts';
import type { Check } from './check.ts';

/** Rounding is worth a word from this share of a mean's variance on; common practice, no source. */
const worthTelling = 0.2;

export const roundedTimes: Check = {
  id: 'rounded-times',
  looksFor: 'Markers whose times are rounded so far that means suffer.',
  run: ({ strokes: { stepMs = 0 }, groups }) => {
    if (stepMs === 0) return [];
    const suffer = groups.filter(({ varianceMs2, standardErrorMs }) => {
      const resolution = varianceMs2?.resolution ?? 0;
      return resolution > 0 && resolution > worthTelling * (standardErrorMs ?? 0) ** 2;
    });
    if (suffer.length === 0) return [];
    const widest = Math.max(...suffer.map(({ ci95Ms }) => ci95Ms ?? 0));
    const message = `the markers’ times are rounded to ${Number(stepMs.toPrecision(3))} ms: strokes that fall alike between two steps are rounded alike in every turn, so intervals are up to ± ${widest.toFixed(2)} ms and more turns do not narrow them`;
    return [finding('rounded-times', message)];
  },
};
