/** What the checks of pins go by: each pin's mean over its turns, and how pins of one channel and sector differ. */
import { lockedWobbleMs } from './wobbles.ts';
import { sectorOf } from '../machine/effects.ts';
import { mean } from '../numbers/statistics.ts';
import { contrast, type LatenessEstimate } from '../strokes/estimate.ts';
import { chances, usedByPin } from '../strokes/repeatability.ts';
import type { Study } from './check.ts';

export interface PinMean {
  readonly channel: number;
  readonly step: number;
  readonly sector: number;
  /** Its strokes. */
  readonly hits: readonly number[];
  readonly latenessMs: readonly number[];
  readonly meanMs: number;
}

/** Every pin that struck, in the pattern's order, what a shaft that is locked to the barrel does to all pins taken off. Empty where chance is not known: no pin came round twice. */
export function pinMeans(study: Study, counts: (hit: number) => boolean = () => true): PinMean[] {
  const { machine, strokes } = study;
  const byPin = usedByPin(strokes, machine);
  const chanceOf = chances(strokes, machine);
  const wobbleMs = lockedWobbleMs(study);
  return machine.pins.flatMap(({ channel, step }) => {
    const hits = (byPin[channel].get(step) ?? []).filter(counts);
    if (hits.length === 0 || !(chanceOf[channel].degreesOfFreedom > 0)) return [];
    const latenessMs = hits.map((i) => strokes.latenessMs[i] - wobbleMs(step));
    const sector = sectorOf(machine.description, step);
    return [{ channel, step, sector, hits, latenessMs, meanMs: mean(latenessMs) }];
  });
}

/**
 * How sure Σ weights·means of pins is: what the pins share, such as the reference's own pins beneath them, cancels in it
 * or adds up as it does in the strokes.
 */
export function pinContrast(
  { strokes, machine }: Study,
  pins: readonly PinMean[],
  weights: ArrayLike<number>,
): LatenessEstimate | null {
  const hits = pins.flatMap((pin) => pin.hits);
  const amounts = pins.flatMap((pin, k) => pin.hits.map(() => weights[k] / pin.hits.length));
  return contrast(strokes, machine, chances(strokes, machine), hits, amounts);
}

/** The same of pins that one shim moves alike: those of one channel in one sector. */
export function groupKey({ channel, sector }: PinMean): string {
  return `${channel} ${sector}`;
}
