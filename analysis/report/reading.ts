/** What a report's numbers mean in words, before any format: which group is late, how sure that is, the verdict. */
import { defaultToleranceMs } from '../machine/tolerance.ts';
import { grouped } from '../numbers/grouped.ts';
import type { Group, ReportHead } from '../results/results.ts';

/** Tolerance where neither the report nor its advice gives one, ms: the design's default. */

export interface ChannelFacts {
  readonly id: string;
  /** As people call it; the id where it has no name. */
  readonly name: string;
  readonly toleranceMs: number;
  readonly reference: boolean;
  /** "meant 8.00 ms late", "meant 2.00 ms early to 8.00 ms late"; absent where it is meant at 0. */
  readonly meant?: string;
}

/** The channels a report speaks of, in the machine's order. */
export function channelsOf(report: ReportHead): ChannelFacts[] {
  if (report.channels !== undefined) {
    return report.channels.map(({ id, name, toleranceMs, reference }) => ({
      id,
      name: name ?? id,
      toleranceMs,
      reference,
      ...meantOf(report, id),
    }));
  }
  const ids = [...new Set(report.groups.map(({ channel }) => channel))];
  return ids.map((id) => {
    const predicted = report.advice.predicted.find(({ channel }) => channel === id);
    return { id, name: id, toleranceMs: predicted?.toleranceMs ?? defaultToleranceMs, reference: false };
  });
}

/** What is to be known of what is meant; empty where nothing is. */
export function meantNote(channels: readonly Pick<ChannelFacts, 'reference' | 'meant'>[]): string {
  const meant = channels.filter((channel) => channel.meant !== undefined);
  if (meant.length === 0) return '';
  const ofReference = meant.find(({ reference }) => reference)?.meant;
  const all =
    ofReference === undefined
      ? ''
      : ` The reference itself is ${ofReference}: a channel that strikes with it shows as much ${sides(ofReference)}.`;
  return `Where a lateness is meant it is taken off: 0 is as meant.${all}`;
}

/** The side on which what is meant lies; of sectors that differ, both. */
function sides(meant: string): string {
  return ['late', 'early'].filter((side) => meant.includes(side)).join(' or ');
}

function meantOf({ groups }: ReportHead, id: string): { meant?: string } {
  const own = groups.filter(({ channel, sector }) => channel === id && sector !== null);
  const targetsMs = own.map(({ targetMs = 0 }) => targetMs);
  const [least, most] = [Math.min(...targetsMs), Math.max(...targetsMs)];
  if (own.length === 0 || (least === 0 && most === 0)) return {};
  const words = (ms: number) => (ms === 0 ? '0' : `${figures(Math.abs(ms))} ms ${ms < 0 ? 'early' : 'late'}`);
  return { meant: `meant ${words(least)}${most === least ? '' : ` to ${words(most)}`}` };
}

/** The sectors a report speaks of, in the barrel's order. */
export function sectorsOf(report: ReportHead): string[] {
  if (report.barrel !== undefined) return report.barrel.sectors.map(({ id }) => id);
  return [...new Set(report.groups.flatMap(({ sector }) => (sector === null ? [] : [sector])))];
}

/**
 * How a mean stands against its tolerance. "late" and "early" are sure: the whole 95 % interval is outside. "maybe" is
 * an interval that reaches across the limit; "maybe-either" holds zero too, so that the group may as well be where it is
 * due. "unknown" is a mean that was not measured.
 */
export type Judgement =
  'within' | 'late' | 'early' | 'maybe-late' | 'maybe-early' | 'maybe-either' | 'unknown';

export const judgementWords: Readonly<Record<Judgement, string>> = {
  within: 'in tolerance',
  late: 'LATE',
  early: 'EARLY',
  'maybe-late': 'maybe late',
  'maybe-early': 'maybe early',
  'maybe-either': 'too unsure to say',
  unknown: 'not measured',
};

export function judge(meanMs: number | null, ci95Ms: number | null, toleranceMs: number): Judgement {
  if (meanMs === null) return 'unknown';
  const late = meanMs > 0;
  const size = Math.abs(meanMs);
  // Without an interval nothing is sure: only a mean outside is worth a word.
  if (ci95Ms === null) return size <= toleranceMs ? 'within' : late ? 'maybe-late' : 'maybe-early';
  if (size + ci95Ms <= toleranceMs) return 'within';
  if (size - ci95Ms > toleranceMs) return late ? 'late' : 'early';
  if (size <= ci95Ms) return 'maybe-either';
  return late ? 'maybe-late' : 'maybe-early';
}

/** One channel in one sector, with what it means. */
export interface Reading {
  readonly channel: ChannelFacts;
  readonly sector: string;
  readonly group: Group;
  readonly judgement: Judgement;
}

/** Every channel × sector group that has pins: channels in the machine's order, sectors in the barrel's. */
export function readingsOf(report: ReportHead): Reading[] {
  const sectors = sectorsOf(report);
  const key = (channel: string, sector: string | null) => JSON.stringify([channel, sector]);
  const groups = new Map(report.groups.map((group) => [key(group.channel, group.sector), group]));
  return channelsOf(report).flatMap((channel) =>
    sectors.flatMap((sector) => {
      const group = groups.get(key(channel.id, sector));
      if (group === undefined) return [];
      // A mean that cannot be relied on is no measurement, however narrow its interval.
      const meanMs = group.doubt === undefined ? group.meanMs : null;
      return [{ channel, sector, group, judgement: judge(meanMs, group.ci95Ms, channel.toleranceMs) }];
    }),
  );
}

export interface Verdict {
  readonly state: 'in-tolerance' | 'out-of-tolerance' | 'unsure' | 'not-measured';
  /** One plain sentence. */
  readonly sentence: string;
}

/** In tolerance only where every measured group's whole interval is. */
export function verdictOf(report: ReportHead): Verdict {
  const readings = readingsOf(report);
  const measured = readings.filter(({ judgement }) => judgement !== 'unknown');
  const doubted = readings.filter(({ group }) => group.doubt !== undefined);
  const unmeasured = readings.length - measured.length - doubted.length;
  const rest = `${inDoubt(doubted)}${unmeasured === 0 ? '' : ` ${plural(unmeasured, 'group')} could not be measured.`}`;
  if (measured.length === 0 && doubted.length > 0)
    return { state: 'unsure', sentence: `Nothing here can be relied on.${rest}` };
  if (measured.length === 0) {
    return {
      state: 'not-measured',
      sentence: 'Nothing could be measured in this take; the findings say why.',
    };
  }
  const sure = measured.filter(({ judgement }) => judgement === 'late' || judgement === 'early');
  const outside = measured.filter(({ judgement }) => judgement !== 'within');
  if (sure.length > 0) {
    const count = `${sure.length} of ${plural(measured.length, 'group')}`;
    const are = sure.length === 1 ? 'is' : 'are';
    const sentence = `Out of tolerance: ${count} ${are} late or early beyond doubt. ${worst(sure)}${rest}`;
    return { state: 'out-of-tolerance', sentence };
  }
  if (outside.length > 0) {
    return { state: 'unsure', sentence: `${undecided(outside, measured.length)}${rest}` };
  }
  const all =
    measured.length === 1 ? 'the one group measured is' : `all ${measured.length} groups measured are`;
  if (doubted.length > 0)
    return {
      state: 'unsure',
      sentence: `Not decided: ${all} within tolerance, but not all can be relied on.${rest}`,
    };
  return { state: 'in-tolerance', sentence: `In tolerance: ${all} within it, intervals included.${rest}` };
}

/** What is said of groups whose intervals reach across tolerance. */
function undecided(outside: readonly Reading[], measured: number): string {
  const leaning = outside.filter(({ judgement }) => judgement !== 'maybe-either');
  const unsure = outside.length - leaning.length;
  const of = (count: number) => `${count} of ${plural(measured, 'group')}`;
  if (leaning.length > 0) {
    const more =
      unsure === 0 ? '' : ` Of ${plural(unsure, 'group')} this take is too unsure to say anything.`;
    return `Not decided: the interval of ${of(leaning.length)} reaches across its tolerance. ${worst(leaning)}${more}`;
  }
  const width = ({ group, channel }: Reading) => (group.ci95Ms ?? 0) / channel.toleranceMs;
  const { channel, sector, group } = outside.reduce((a, b) => (width(b) > width(a) ? b : a));
  const least = `The least sure is ${channel.name} in sector ${sector}: ${withInterval(group.meanMs, group.ci95Ms)} ms, tolerance ${figures(channel.toleranceMs)} ms.`;
  return `Too unsure to say: the interval of ${of(unsure)} holds zero and reaches beyond tolerance. ${least}`;
}

/** " In doubt: 8 groups, since which sector is which is a guess." */
function inDoubt(doubted: readonly Reading[]): string {
  const byReason = [...grouped(doubted, ({ group }) => group.doubt)];
  return byReason.map(([why, own]) => ` In doubt: ${plural(own.length, 'group')}, since ${why}.`).join('');
}

/** The group that is furthest out, in units of its own tolerance. */
function worst(readings: readonly Reading[]): string {
  const excess = ({ group, channel }: Reading) => Math.abs(group.meanMs ?? 0) / channel.toleranceMs;
  const { channel, sector, group } = readings.reduce((a, b) => (excess(b) > excess(a) ? b : a));
  const mean = group.meanMs ?? 0;
  const size = `${figures(Math.abs(mean))}${group.ci95Ms === null ? '' : ` ± ${figures(group.ci95Ms)}`} ms`;
  return `The worst is ${channel.name} in sector ${sector}: ${size} ${mean > 0 ? 'late' : 'early'}, tolerance ${figures(channel.toleranceMs)} ms.`;
}

/** "1 group", "3 groups" */
export function plural(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`;
}

/** A size in ms to two places; "–" where it is not known. */
export function figures(ms: number | null): string {
  return ms === null ? '–' : ms.toFixed(2);
}

/** A lateness with its sign always shown: +3.10 is late, −3.10 early, "–" unknown. */
export function signed(ms: number | null): string {
  if (ms === null) return '–';
  const text = Math.abs(ms).toFixed(2);
  return Number(text) === 0 ? text : `${ms < 0 ? '−' : '+'}${text}`;
}

/** "+3.10 ± 0.50", "+3.10 ± ?" where the interval is not known, "–" where nothing is. */
export function withInterval(ms: number | null, ci95Ms: number | null): string {
  return ms === null ? '–' : `${signed(ms)} ± ${ci95Ms === null ? '?' : figures(ci95Ms)}`;
}

/** Decimals with which a tempo and its interval are written: two, or as many as the interval's first figure needs. */
export function tempoDecimals(bpmCi95: number | null): number {
  return bpmCi95 === null || bpmCi95 <= 0 ? 2 : Math.min(6, Math.max(2, Math.ceil(-Math.log10(bpmCi95))));
}

/** "112.04 ± 0.03" beats a minute, "112.04 ± ?" where the interval is not known. */
export function tempoWithInterval(bpm: number, bpmCi95: number | null): string {
  const decimals = tempoDecimals(bpmCi95);
  return `${bpm.toFixed(decimals)} ± ${bpmCi95?.toFixed(decimals) ?? '?'}`;
}

/** At most `length` characters, with an ellipsis where some are left off. */
export function cut(text: string, length: number): string {
  const characters = Array.from(text);
  return characters.length <= length ? text : `${characters.slice(0, length - 1).join('')}…`;
}

/** Cells of the bar on either side of due, and how many of them the tolerance spans. */
const barCells = 6;
const toleranceCells = 2;

/**
 * A lateness as a bar of plain characters (none that a Markdown table would take for its own): `····[··¦>>]>···` is late and beyond its tolerance (the brackets), with
 * early to the left. What reaches past the end is cut there with `+`.
 */
export function bar(meanMs: number | null, toleranceMs: number): string {
  const lean = meanMs === null ? 0 : Math.round((meanMs / toleranceMs) * toleranceCells);
  const cells = (side: 'early' | 'late'): string[] => {
    const length = side === 'late' ? Math.max(lean, 0) : Math.max(-lean, 0);
    const mark = side === 'late' ? '>' : '<';
    return Array.from({ length: barCells }, (_, i) =>
      i >= length ? '·' : i === barCells - 1 && length > barCells ? '+' : mark,
    );
  };
  const late = cells('late').toSpliced(toleranceCells, 0, ']').join('');
  const early = cells('early').toSpliced(toleranceCells, 0, '[').reverse().join('');
  return `${early}${meanMs === null ? '?' : '¦'}${late}`;
}
