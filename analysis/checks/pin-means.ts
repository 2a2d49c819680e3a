/** What the checks of pins go by: each pin's mean over its turns, and how pins of one channel and sector differ. */
import { sectorOf } from '../machine/effects.ts';
import { combine } from '../numbers/inference.ts';
import { mean } from '../numbers/statistics.ts';
import { chances, usedByPin } from '../strokes/repeatability.ts';
import type { Study } from './check.ts';
import { lockedWobbleMs } from './shaft-wobble.ts';

export interface PinMean {
  readonly channel: number;
  readonly step: number;
  readonly sector: number;
  readonly latenessMs: readonly number[];
  readonly meanMs: number;
  /** Of the mean, by chance and by what the rotation is unsure of, ms². */
  readonly variance: number;
  readonly degreesOfFreedom: number;
}

/** Every pin that struck, in the pattern's order, what a shaft that is locked to the barrel does to all pins taken off. Empty where chance is not known: no pin came round twice. */
export function pinMeans(study: Study, counts: (hit: number) => boolean = () => true): PinMean[] {
  const { machine, strokes } = study;
  const byPin = usedByPin(strokes, machine);
  const chanceOf = chances(strokes, machine);
  const { rotation } = strokes;
  const wobbleMs = lockedWobbleMs(study);
  return machine.pins.flatMap(({ channel, step }) => {
    const hits = (byPin[channel].get(step) ?? []).filter(counts);
    const chance = chanceOf[channel];
    if (hits.length === 0 || !(chance.degreesOfFreedom > 0)) return [];
    const rotationVariance = Math.max(0, 1e6 * rotation.pointVarianceS2) / hits.length;
    const { standardError, degreesOfFreedom } = combine([
      { variance: chance.variance / hits.length, degreesOfFreedom: chance.degreesOfFreedom },
      { variance: rotationVariance, degreesOfFreedom: rotation.referenceDegreesOfFreedom },
    ]);
    const latenessMs = hits.map((i) => strokes.latenessMs[i] - wobbleMs(step));
    const sector = sectorOf(machine.description, step);
    const meanMs = mean(latenessMs);
    return [{ channel, step, sector, latenessMs, meanMs, variance: standardError ** 2, degreesOfFreedom }];
  });
}

/** Pins that one shim moves together: of one channel in one sector. */
export function together({ channel, sector }: PinMean): string {
  return `${channel} ${sector}`;
}
