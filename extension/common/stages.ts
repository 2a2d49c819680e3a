/** The stages of an analysis as a person sees them: their share of the work. */
import type { Stage } from '../../analysis/ports.ts';

/** How much of an analysis each stage is, in order; hearing takes nearly all the time. Measured on the demo takes. */
const shares: readonly (readonly [Stage, number])[] = [
  ['reading', 0.05],
  ['hearing', 0.8],
  ['laying', 0.05],
  ['checking', 0.03],
  ['advising', 0.05],
  ['reporting', 0.02],
];

/**
 * @param fraction 0 to 1 within the stage
 * @returns 0 to 1 of the whole analysis
 */
export function doneOf(stage: Stage, fraction: number): number {
  let done = 0;
  for (const [name, share] of shares) {
    if (name === stage) return done + share * Math.min(1, Math.max(0, fraction));
    done += share;
  }
  return done;
}
