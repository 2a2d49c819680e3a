/** All situations, and the same machine without a fault for each. */
import { adviceSituations } from './advice-situations.ts';
import { beliefSituations } from './belief-situations.ts';
import { errorSituations } from './error-situations.ts';
import { recordSituations } from './record-situations.ts';
import type { Situation } from './situation.ts';
import { stepSituations } from './step-situations.ts';
import { usualShape } from './world.ts';

export const situations: readonly Situation[] = [
  ...errorSituations,
  ...beliefSituations,
  ...recordSituations,
  ...stepSituations,
  ...adviceSituations,
];

/**
 * The machine of the same seed and shape with nothing wrong in it; where the fault is in the shape, the usual one of that
 * many parts.
 */
export function faultless({ shape = {} }: Situation): Situation {
  const { sectors, strikers, stepsPerSector, pins, channelMs, sectorMs } = { ...usualShape, ...shape };
  return {
    name: 'faultless',
    part: 'A',
    shape: { sectors, strikers, stepsPerSector, pins, channelMs, sectorMs },
  };
}
