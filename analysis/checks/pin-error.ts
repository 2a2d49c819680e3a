/**
 * Pins that sit off from the other pins of their channel and sector, turn after turn. A shim moves a channel or a sector
 * as a whole, so what one pin is off, only that pin can mend.
 */
import { sectorEdges, standsIn } from './sector-edges.ts';
import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { anova, ci95, holm, studentTCdf } from '../numbers/inference.ts';
import { mean, median } from '../numbers/statistics.ts';
import { sectorOf } from '../machine/effects.ts';
import { besideWrongBoundary } from '../strokes/boundary.ts';
import { disagreement } from '../strokes/unpinned.ts';
import type { Check, Study } from './check.ts';
import { channelName, counted, listed } from '../words/names.ts';
import { pinContrast, pinMeans, groupKey, type PinMean } from './pin-means.ts';
import { halfWidthMs } from '../strokes/estimate.ts';
import { thinned, type Point } from './plot-points.ts';
import type { Section } from '../results/results.ts';

/** Chance of one false name in a take. All checks together may raise one false finding in twenty takes. */
const falseAlarm = 0.02;
/** With fewer pins there is no saying which of them is off. */
const leastPins = 3;
/** In the plot: the channels with most to re-seat, and no more of one's pins than can be seen apart. */
const channelsDrawn = 3;
const pinsDrawn = 600;
/** A pin that its sector's edge explains to within so many standard errors is the edge's, not its own. */
const explainedWithin = 4;

export interface PinOff {
  readonly channel: number;
  readonly step: number;
  /** Against the other pins of its channel and sector. */
  readonly offMs: number;
  readonly standardErrorMs: number;
  readonly ci95Ms: number;
  /** Corrected for all pins that were looked at. */
  readonly p: number;
}

export const pinError: Check = {
  id: 'pin-error',
  looksFor: 'Pins that are late or early against the other pins of their channel and sector, every turn.',
  run: (study) => {
    const off = ownErrors(study);
    const parts = spreadParts(study);
    return [...grouped(off, ({ channel }) => channel)].map(([channel, pins]) => {
      const { id } = study.machine.description.channels[channel];
      const worst = pins.toSorted((a, b) => Math.abs(b.offMs) - Math.abs(a.offMs));
      const named = listed(
        worst.map(
          ({ step, offMs, ci95Ms }) =>
            `step ${step} (${Math.abs(offMs).toFixed(2)} ± ${ci95Ms.toFixed(2)} ms ${offMs > 0 ? 'late' : 'early'})`,
        ),
      );
      const of = parts.find((part) => part.channel === channel)!;
      const rest = Number.isFinite(of.chanceSdMs)
        ? `; with perfect pins its strokes would still scatter by ${of.chanceSdMs.toFixed(2)} ms`
        : '';
      const order = worst.length > 1 ? ', the worst first' : '';
      const alike = alikeOff(pins);
      const meant =
        alike.length === 0
          ? ''
          : `; ${alike.length === pins.length ? (pins.length === 2 ? 'both' : 'all of them') : `${alike.length} of them`} are off alike, by about ${median(alike).toFixed(1)} ms: if that is meant (a swing), enter it in the pattern, else re-seat them`;
      const message = `${counted(pins.length, 'pin')} of ${channelName(study.machine, channel)} ${worst.length > 1 ? 'stand' : 'stands'} off from the other pins of the same sector${order}: ${named}${meant}${rest}`;
      return finding('pin-error', message, { channel: id, step: worst[0].step });
    });
  },
  section: (study) => {
    const parts = spreadParts(study).filter(({ pins }) => pins > 1);
    return parts.length === 0 ? null : sectionOf(study, parts);
  },
};

/** Sizes that differ by less than this share of their middle, or by less than so much, ms, are alike: pins are seated no better. */
const alikeShare = 0.2;
const alikeMs = 0.3;
/** Smaller than so much, ms, nobody means it. Common practice, no source. */
const leastMeantMs = 1;

/**
 * Sizes, ms, of what pins are off, of those that are off alike; empty where fewer than two are. Late or early alike: where most pins
 * of a sector are moved, the others stand off from them.
 */
export function alikeOff(pins: readonly Pick<PinOff, 'offMs'>[]): number[] {
  const sizes = pins.map(({ offMs }) => Math.abs(offMs)).filter((size) => size >= leastMeantMs);
  const about = (middle: number) =>
    sizes.filter((size) => Math.abs(size - middle) <= Math.max(alikeMs, alikeShare * middle));
  const most = sizes.map(about).reduce((a, b) => (b.length > a.length ? b : a), []);
  return most.length > 1 ? most : [];
}

const judged = new WeakMap<Study, readonly PinOff[]>();

/** Pins surely off from the rest of their group, whichever size. Ascending by channel, then step. Worked out once a study. */
export function pinsOff(study: Study): readonly PinOff[] {
  let off = judged.get(study);
  if (off === undefined) {
    const all = [...grouped(pinMeans(study), groupKey).values()].flatMap((own) => againstOthers(study, own));
    const adjusted = holm(all.map(({ p }) => p));
    off = all
      .map((pin, i) => ({ ...pin, p: adjusted[i] }))
      .filter(({ p }) => p < falseAlarm)
      .sort((a, b) => a.channel - b.channel || a.step - b.step);
    judged.set(study, off);
  }
  return off;
}

/** Pins surely off by more than what the edge of their sector does to all pins there. */
function ownErrors(study: Study): PinOff[] {
  const { machine, strokes } = study;
  // Whose pins these are nobody knows.
  if (strokes.perhapsTune !== undefined || disagreement(strokes, machine) !== null) return [];
  const edges = sectorEdges(study);
  return pinsOff(study).filter(({ channel, step, offMs, standardErrorMs }) => {
    if (!machine.description.channels[channel].onBarrel) return true;
    // Counted in the wrong sector, pins stand off from their group and right ones from them.
    if (besideWrongBoundary(strokes, machine, sectorOf(machine.description, step))) return false;
    const edge = edges.find((zone) => standsIn(machine, zone, step));
    return edge === undefined || Math.abs(offMs - edge.offMs) > explainedWithin * standardErrorMs;
  });
}

/** How a pin stands against the others of its group, sure or not; null where nobody can tell. */
export function pinAgainstOthers(study: Study, channel: number, step: number): PinOff | null {
  const groups = [...grouped(pinMeans(study), groupKey).values()];
  const own = groups.find((pins) => pins.some((pin) => pin.channel === channel && pin.step === step));
  return againstOthers(study, own ?? []).find((pin) => pin.step === step) ?? null;
}

/**
 * Each pin against the mean of the others that are not themselves far off: those furthest from the group's middle are
 * left out of the others' mean as long as they are surely off, so that one bad pin does not accuse the good ones.
 */
function againstOthers(study: Study, pins: readonly PinMean[]): PinOff[] {
  if (pins.length < leastPins) return [];
  const middle = median(pins.map(({ meanMs }) => meanMs));
  const byDistance = pins.toSorted((a, b) => Math.abs(a.meanMs - middle) - Math.abs(b.meanMs - middle));
  let good = byDistance;
  while (good.length > Math.ceil(pins.length / 2)) {
    const last = good[good.length - 1];
    if (compared(study, last, good).p >= falseAlarm / pins.length) break;
    good = good.slice(0, -1);
  }
  return pins.map((pin) => compared(study, pin, good));
}

function compared(study: Study, pin: PinMean, good: readonly PinMean[]): PinOff {
  const others = good.filter((other) => other !== pin);
  const offMs = pin.meanMs - mean(others.map(({ meanMs }) => meanMs));
  const weights = [1, ...others.map(() => -1 / others.length)];
  const error = pinContrast(study, [pin, ...others], weights);
  const { standardErrorMs = NaN, degreesOfFreedom = NaN } = error ?? {};
  return {
    channel: pin.channel,
    step: pin.step,
    offMs,
    standardErrorMs,
    ci95Ms: ci95(standardErrorMs, degreesOfFreedom),
    p: 2 * studentTCdf(-Math.abs(offMs / standardErrorMs), degreesOfFreedom),
  };
}

interface SpreadParts {
  readonly channel: number;
  readonly pins: number;
  /** Of single strokes in their sectors, pins' errors in it. */
  readonly nowSdMs: number;
  readonly pinSdMs: number;
  /** What would remain if all pins were perfect. */
  readonly chanceSdMs: number;
  /** Of pins that are all alike. */
  readonly p: number;
}

/**
 * One-way random-effects analysis of variance over turns, by channel: pins within their sectors, strokes within pins
 * (numbers/inference.ts). Sectors' own means are taken off first, each at the price of a degree of freedom.
 */
function spreadParts(study: Study): SpreadParts[] {
  return [...grouped(pinMeans(study), ({ channel }) => channel)].map(([channel, pins]) => {
    const sectors = [...grouped(pins, groupKey).values()];
    const middles = new Map(
      sectors.map((own) => [own[0].sector, mean(own.flatMap(({ latenessMs }) => latenessMs))]),
    );
    const { betweenSd, p, within } = anova(
      pins.map(({ latenessMs, sector }) => latenessMs.map((ms) => ms - middles.get(sector)!)),
      sectors.length - 1,
    );
    const chanceSdMs = Math.sqrt(within.meanSquare);
    return {
      channel,
      pins: pins.length,
      nowSdMs: Math.hypot(betweenSd, chanceSdMs),
      pinSdMs: betweenSd,
      chanceSdMs,
      p,
    };
  });
}

function sectionOf(study: Study, parts: readonly SpreadParts[]): Section {
  const { machine } = study;
  const places = (ms: number) => (Number.isFinite(ms) ? ms.toFixed(2) : '–');
  const rank = parts.toSorted((a, b) => b.pinSdMs - a.pinSdMs);
  // Those with most pins to re-seat before those whose pins differ most: a finding is seen in its plot.
  const named = grouped(ownErrors(study), ({ channel }) => channel);
  const reseat = ({ channel }: SpreadParts) => named.get(channel)?.length ?? 0;
  const drawn = rank.toSorted((a, b) => reseat(b) - reseat(a));
  const worst = rank.find(({ p, pinSdMs, chanceSdMs }) => p < falseAlarm && pinSdMs > chanceSdMs);
  const lead =
    worst === undefined
      ? 'Chance from turn to turn is as large as what pins differ by, or larger: re-seating pins gains little.'
      : `Most is to be gained at ${channelName(machine, worst.channel)}: its pins differ by more than chance moves them, so re-seat before shimming.`;
  return {
    id: 'pin-error',
    title: 'Pins against chance',
    sentences: [
      'How single strokes scatter within a sector, what part of it is the pins’ own places, and what would be left with perfect pins.',
      lead,
    ],
    table: {
      columns: [
        'channel',
        'pins',
        'strokes scatter, ms',
        'pins differ, ms',
        'with perfect pins, ms',
        'all alike: p',
      ],
      rows: rank.map(({ channel, pins, nowSdMs, pinSdMs, chanceSdMs, p }) => [
        channelName(machine, channel),
        `${pins}`,
        places(nowSdMs),
        places(pinSdMs),
        places(chanceSdMs),
        Number.isFinite(p) ? p.toPrecision(2) : '–',
      ]),
    },
    plot: {
      xLabel: 'step on the barrel',
      yLabel: 'ms against the other pins of the sector',
      rules: [
        { axis: 'y', at: 0, name: '' },
        ...machine.description.barrel.sectors.map(({ id, from }) => ({
          axis: 'x' as const,
          at: from - 0.5,
          name: id,
        })),
      ],
      series: drawn.slice(0, channelsDrawn).map(({ channel }) => ({
        name: channelName(machine, channel),
        ...offCentre(study, channel),
      })),
    },
  };
}

function offCentre(study: Study, channel: number): { points: Point[]; ci95: number[] } {
  const pins = pinMeans(study).filter((pin) => pin.channel === channel);
  const placed = [...grouped(pins, groupKey).values()].flatMap((own) => {
    const middle = median(own.map(({ meanMs }) => meanMs));
    return own.slice(0, pinsDrawn).map((pin) => {
      const error = pinContrast(study, [pin], [1]);
      return { point: [pin.step, pin.meanMs - middle] as Point, ci95: error ? halfWidthMs(error) : NaN };
    });
  });
  const drawn = placed.slice(0, pinsDrawn);
  return {
    points: thinned(drawn.map(({ point }) => point)),
    ci95: drawn.map(({ ci95 }) => Number(ci95.toPrecision(3))),
  };
}
