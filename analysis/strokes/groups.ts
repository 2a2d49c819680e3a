/**
 * Means by channel and by sector. A mean estimates that of the pins now fitted, each weighing as often as it struck, so
 * its interval holds chance from turn to turn and the reference's noise; pin-to-pin scatter is reported beside it.
 */
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { anova, combine, pooledVariance } from '../numbers/inference.ts';
import { mean, median, robustSd, variance } from '../numbers/statistics.ts';
import type { Group } from '../results.ts';
import { doubtOf } from './doubts.ts';
import { halfWidthMs, noVariance, type LatenessEstimate } from './estimate.ts';
import { chances, usedByPin, type Chance } from './repeatability.ts';
import type { Strokes } from './strokes.ts';

/** Of fewer strokes no mean is given. */
export const leastStrokes = 3;
/** Infinity has no place in a report; beyond this a t interval is a normal one's to 1e-9. */
const mostFreedom = 1e9;

/** Each channel as a whole (sector null), then by the sectors in which the pattern has pins for it. */
export function summariseGroups(strokes: Strokes, machine: Machine): Group[] {
  const { channels, barrel } = machine.description;
  const byPin = usedByPin(strokes, machine);
  const chanceOf = chances(strokes, machine);
  return channels.flatMap((channel, c) => {
    const steps = machine.pins.filter((pin) => pin.channel === c).map((pin) => pin.step);
    const pinsAt = (within: (step: number) => boolean) =>
      steps.filter(within).flatMap((step) => {
        const hits = byPin[c].get(step);
        return hits ? [hits] : [];
      });
    const sectors = [...barrel.sectors.keys()].filter((sector) =>
      steps.some((step) => sectorOf(machine.description, step) === sector),
    );
    const summary = (pins: readonly (readonly number[])[]) =>
      summarise(strokes, machine, c, pins, chanceOf[c]);
    const doubt = (sector: number | null) => {
      const why = doubtOf(strokes, machine, c, sector);
      return why === null ? {} : { doubt: why };
    };
    return [
      { channel: channel.id, sector: null, ...summary(pinsAt(() => true)), ...doubt(null) },
      ...sectors.map((sector) => ({
        channel: channel.id,
        sector: barrel.sectors[sector].id,
        ...summary(pinsAt((step) => sectorOf(machine.description, step) === sector)),
        ...doubt(sector),
      })),
    ];
  });
}

function summarise(
  strokes: Strokes,
  machine: Machine,
  channel: number,
  pins: readonly (readonly number[])[],
  chance: Chance,
): Omit<Group, 'channel' | 'sector'> {
  const hits = pins.flat();
  const samples = pins.map((pin) => pin.map((i) => strokes.latenessMs[i]));
  const latenessMs = samples.flat();
  if (hits.length < leastStrokes)
    return {
      count: hits.length,
      meanMs: null,
      medianMs: null,
      sdMs: null,
      ci95Ms: null,
      pinSdMs: null,
      repeatabilityMs: null,
    };
  const repeats = pooledVariance(samples);
  const canTellPins = samples.length > 1 && repeats.degreesOfFreedom > 0;
  return {
    count: hits.length,
    meanMs: mean(latenessMs),
    medianMs: median(latenessMs),
    sdMs: robustSd(latenessMs),
    ...reported(meanEstimate(strokes, machine, channel, hits, chance)),
    pinSdMs: canTellPins ? known(anova(samples).betweenSd) : null,
    repeatabilityMs: repeats.degreesOfFreedom > 0 ? known(Math.sqrt(repeats.variance)) : null,
  };
}

/** An estimate's keys in the report. */
export function reported(estimate: LatenessEstimate | null) {
  if (estimate === null) return { ci95Ms: null };
  const { standardErrorMs, degreesOfFreedom, varianceMs2 } = estimate;
  return {
    ci95Ms: known(halfWidthMs(estimate)),
    standardErrorMs: known(standardErrorMs),
    degreesOfFreedom: known(Math.min(degreesOfFreedom, mostFreedom)),
    varianceMs2,
  };
}

/** These strokes' mean lateness; null where nothing tells how far chance moves them. */
export function meanEstimate(
  strokes: Strokes,
  machine: Machine,
  channel: number,
  hits: readonly number[],
  chance: Chance,
): LatenessEstimate | null {
  const { rotation, turn, step, latenessMs } = strokes;
  const { steps } = machine.description.barrel;
  const positions = Float64Array.from(hits, (i) => turn[i] * steps + step[i]);
  const degreesOfFreedom = rotation.referenceDegreesOfFreedom;
  const meanMs = mean(hits.map((i) => latenessMs[i]));
  if (channel === machine.reference) {
    const at = new Map(Array.from(rotation.referenceHits, (hit, k) => [hit, k]));
    const own = hits.map((hit) => at.get(hit)!);
    const varianceMs2 = { ...noVariance, rotation: 1e6 * rotation.referenceVarianceS2(positions, own) };
    return { meanMs, standardErrorMs: Math.sqrt(varianceMs2.rotation), degreesOfFreedom, varianceMs2 };
  }
  // A take in which no pin came round twice: the strokes' whole scatter, their pins' errors in it, is the honest bound.
  const scatter = hits.map((i) => latenessMs[i]);
  const own =
    chance.degreesOfFreedom > 0 ? chance : { variance: variance(scatter), degreesOfFreedom: hits.length - 1 };
  if (!(own.degreesOfFreedom > 0)) return null;
  const varianceMs2 = {
    ...noVariance,
    chance: own.variance / hits.length,
    rotation: 1e6 * rotation.referenceVarianceS2(positions),
  };
  const error = combine([
    { variance: varianceMs2.chance, degreesOfFreedom: own.degreesOfFreedom },
    { variance: varianceMs2.rotation, degreesOfFreedom },
  ]);
  return {
    meanMs,
    standardErrorMs: error.standardError,
    degreesOfFreedom: error.degreesOfFreedom,
    varianceMs2,
  };
}

/** Unknown is null in results. */
export function known(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}
