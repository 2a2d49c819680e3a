/**
 * Means by channel and by sector. A mean estimates that of the pins now fitted, each weighing as often as it struck, so
 * its interval holds chance from turn to turn and the reference's noise; pin-to-pin scatter is reported beside it.
 */
import { grouped } from '../numbers/grouped.ts';
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { meantMs } from '../machine/target.ts';
import { anova, pooledVariance } from '../numbers/inference.ts';
import { mean, median, robustSd, variance } from '../numbers/statistics.ts';
import type { Group } from '../results/results.ts';
import { doubtOf } from './doubts.ts';
import { halfWidthMs, meanOf, type LatenessEstimate } from './estimate.ts';
import { chances, ownShares, usedByPin } from './repeatability.ts';
import type { Chance, Strokes } from './strokes.ts';

/** Fewer strokes than this give no mean: two say nothing of their own spread. */
export const fewestForMean = 3;
/** A spread is more than rounding's where it lies above by so many standard errors of a variance; common practice, no source. */
const surelyMore = 2;
/** Infinity has no place in a report; beyond this a t interval is a normal one's to 1e-9. */
const mostFreedom = 1e9;

/** Each channel as a whole (sector null), then by the sectors in which the pattern has pins for it. */
export function summariseGroups(strokes: Strokes, machine: Machine): Group[] {
  const { channels, barrel } = machine.description;
  const byPin = usedByPin(strokes, machine);
  const chanceOf = chances(strokes, machine);
  const shares = ownShares(strokes, machine);
  return channels.flatMap((channel, c) => {
    const steps = machine.pins.filter((pin) => pin.channel === c).map((pin) => pin.step);
    const bySector = grouped(steps, (step) => sectorOf(machine.description, step));
    const sectors = [...bySector.keys()].sort((a, b) => a - b);
    const own = sectors.map((sector) =>
      bySector.get(sector)!.flatMap((step) => {
        const hits = byPin[c].get(step);
        return hits ? [hits] : [];
      }),
    );
    const summary = (parts: readonly (readonly (readonly number[])[])[]) =>
      summarise(strokes, machine, parts, { channel: c, chanceOf, share: shares[c] });
    const meant = (sector: number | null) => {
      const targetMs = meantMs(machine, c, sector);
      return targetMs === 0 ? {} : { targetMs };
    };
    const doubt = (sector: number | null) => {
      const why = doubtOf(strokes, machine, c, sector);
      return why === null ? {} : { doubt: why };
    };
    // What is not on the barrel has no sectors' offsets to take off.
    const whole = channel.onBarrel ? own : [own.flat()];
    return [
      { channel: channel.id, sector: null, ...summary(whole), ...meant(null), ...doubt(null) },
      ...sectors.map((sector, k) => ({
        channel: channel.id,
        sector: barrel.sectors[sector].id,
        ...summary([own[k]]),
        ...meant(sector),
        ...doubt(sector),
      })),
    ];
  });
}

interface OfChannel {
  readonly channel: number;
  readonly chanceOf: readonly Chance[];
  /** The striker's own share of its pins' spread. */
  readonly share: number;
}

/** @param parts hits by pin, by sector: pins are held against those of their own sector */
function summarise(
  strokes: Strokes,
  machine: Machine,
  parts: readonly (readonly (readonly number[])[])[],
  { channel, chanceOf, share }: OfChannel,
): Omit<Group, 'channel' | 'sector'> {
  const lateness = (pins: readonly (readonly number[])[]) =>
    pins.map((pin) => pin.map((i) => strokes.latenessMs[i]));
  const samples = lateness(parts.flat());
  const hits = parts.flat(2);
  const latenessMs = samples.flat();
  if (hits.length < fewestForMean)
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
  // A take in which no pin came round twice: the strokes' whole scatter, their pins' errors in it, is the honest bound.
  const scatter = { variance: variance(latenessMs), degreesOfFreedom: hits.length - 1 };
  const own = chanceOf.map((chance, c) =>
    c === channel && !(chance.degreesOfFreedom > 0) ? scatter : chance,
  );
  const filled = parts.map(lateness).filter((pins) => pins.length > 0);
  const aboutSectors = filled.flatMap((pins) => {
    const middle = mean(pins.flat());
    return pins.map((pin) => pin.map((ms) => ms - middle));
  });
  const canTellPins = samples.length > filled.length && repeats.degreesOfFreedom > 0;
  return {
    count: hits.length,
    meanMs: mean(latenessMs),
    medianMs: median(latenessMs),
    sdMs: robustSd(latenessMs),
    ...reported(meanOf(strokes, machine, own, hits)),
    pinSdMs: canTellPins ? knownOrNull(anova(aboutSectors, filled.length - 1).betweenSd) : null,
    repeatabilityMs: repeatability(
      share * repeats.variance,
      repeats.degreesOfFreedom,
      stepOfAny(strokes, hits),
    ),
  };
}

/** Step to which some of the hits' times are rounded, ms. */
function stepOfAny({ stepMs = 0, hits: { track } }: Strokes, hits: readonly number[]): number {
  return hits.some((hit) => track[hit] < 0) ? stepMs : 0;
}

/** A spread from turn to turn, ms, that of rounding taken off; null where nothing tells that more is left than chance. */
function repeatability(spreadMs2: number, degreesOfFreedom: number, stepMs: number): number | null {
  if (!(degreesOfFreedom > 0)) return null;
  if (stepMs === 0) return knownOrNull(Math.sqrt(spreadMs2));
  const left = spreadMs2 - stepMs ** 2 / 12;
  const standardError = spreadMs2 * Math.sqrt(2 / degreesOfFreedom);
  return left > surelyMore * standardError ? knownOrNull(Math.sqrt(left)) : null;
}

/** An estimate's keys in the report. */
export function reported(estimate: LatenessEstimate | null) {
  if (estimate === null) return { ci95Ms: null };
  const { standardErrorMs, degreesOfFreedom, varianceMs2 } = estimate;
  return {
    ci95Ms: knownOrNull(halfWidthMs(estimate)),
    standardErrorMs: knownOrNull(standardErrorMs),
    degreesOfFreedom: knownOrNull(Math.min(degreesOfFreedom, mostFreedom)),
    varianceMs2,
  };
}

/** Unknown is null in results. */
export function knownOrNull(value: number): number | null {
  return Number.isFinite(value) ? value : null;
}
