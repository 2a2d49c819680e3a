/** Which settings each adjuster may be given: what the machine allows, and what the take can tell apart. */
import { shiftMs } from '../machine/effects.ts';
import type { Adjuster } from '../machine/schema.ts';
import type { Belief } from './belief.ts';
import { contradiction } from './effects.ts';

/** Whole settings from `lo` to `hi`, both allowed. */
export interface Span {
  readonly lo: number;
  readonly hi: number;
}

export interface Choice {
  /** Index into the machine's adjusters. */
  readonly adjuster: number;
  /** Setting on the machine now; staying there is always allowed, even where it lies outside min and max. */
  readonly installed: number;
  /** Settings it may be changed to; empty where it is to stay. Ascending, none holds `installed`. */
  readonly spans: readonly Span[];
}

/** @param widen how many units beyond min and max to allow: to find out what a limit costs */
export function choicesOf(belief: Belief, widen = 0): Choice[] {
  const { adjusters } = belief.machine.description;
  return adjusters.map((adjuster, a) => {
    const { installed, locked } = adjuster;
    if (locked === true || contradiction(belief, a) !== null) return { adjuster: a, installed, spans: [] };
    const lo = adjuster.min - widen;
    const hi = adjuster.max + widen;
    const resolved = resolvedShiftMs(belief, a);
    const tells = (setting: number) =>
      Math.abs(shiftOf(belief, adjuster, installed, setting)) * Math.abs(belief.effects[a].factor) > resolved;
    const below = { lo, hi: firstBelow(installed, lo, hi, tells) };
    const above = { lo: firstAbove(installed, lo, hi, tells), hi };
    const spans = [below, above].map((span) => strikes(adjuster, span)).filter(({ lo, hi }) => lo <= hi);
    return { adjuster: a, installed, spans };
  });
}

/** Own shift in ms when an adjuster goes from one setting to another, by geometry. */
export function shiftOf(belief: Belief, adjuster: Adjuster, from: number, to: number): number {
  return shiftMs(adjuster, from, to, belief.machine.description, belief.secondsPerTurn);
}

/**
 * The least own shift of an adjuster that the take can tell from none, ms: the middle one (median) of the half-widths
 * of the groups that it moves. Groups that it moves only a little, through the reference's mean, do not count.
 * Infinity where it moves nothing that was measured.
 */
function resolvedShiftMs(belief: Belief, a: number): number {
  const most = Math.max(0, ...belief.share.map((share) => Math.abs(share[a])));
  if (most === 0) return Infinity;
  const widths = belief.groups
    .flatMap((group, g) => {
      const share = Math.abs(belief.share[g][a]);
      return share >= most / 2 ? [group.ci95Ms / share] : [];
    })
    .sort((x, y) => x - y);
  return widths[Math.floor((widths.length - 1) / 2)];
}

function firstAbove(installed: number, lo: number, hi: number, tells: (setting: number) => boolean): number {
  let setting = Math.max(installed + 1, lo);
  while (setting <= hi && !tells(setting)) setting++;
  return setting;
}

function firstBelow(installed: number, lo: number, hi: number, tells: (setting: number) => boolean): number {
  let setting = Math.min(installed - 1, hi);
  while (setting >= lo && !tells(setting)) setting--;
  return setting;
}

/** A striker cannot fall through nothing: settings that leave no drop height are not allowed. */
function strikes({ perUnit }: Adjuster, span: Span): Span {
  if (!('dropMm' in perUnit) || perUnit.dropMm === 0) return span;
  const zero = -perUnit.dropHeightMm / perUnit.dropMm;
  return perUnit.dropMm > 0
    ? { lo: Math.max(span.lo, Math.floor(zero) + 1), hi: span.hi }
    : { lo: span.lo, hi: Math.min(span.hi, Math.ceil(zero) - 1) };
}
