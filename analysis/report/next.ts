/**
 * Many channels at a glance: a matrix of channel by sector, worst first; what to calibrate next; what nobody has measured
 * yet, and the shortest pattern of pins that would measure it.
 */
import { sectorOf } from '../machine/effects.ts';
import type { Machine, Pin } from '../machine/machine.ts';
import type { EarlierReport } from '../results/results.ts';
import { channelsOf, judge, sectorsOf, signed } from './reading.ts';
import { columnsWide, fitColumns, terminalColumns } from './terminal-text.ts';
import { togetherMs } from './together.ts';

export interface Cell {
  readonly sector: string;
  readonly meanMs: number | null;
  /** Lateness over tolerance; 0 where it is not known. */
  readonly excess: number;
}
export interface MatrixRow {
  readonly channel: string;
  readonly toleranceMs: number;
  readonly cells: readonly Cell[];
  /** Of the worst cell. */
  readonly worst: number;
  readonly unmeasured: number;
}

/**
 * Worst first: by the worst cell over its tolerance, then by what is not measured. Two channels that should sound as one
 * have a row of their own: by how much the second strikes after the first.
 *
 * @param pairs of `together` (together.ts)
 */
export function matrixOf(
  report: EarlierReport,
  pairs: readonly (readonly [string, string])[] = [],
): MatrixRow[] {
  const sectors = sectorsOf(report);
  const groupOf = (channel: string, sector: string) =>
    report.groups.find((one) => one.channel === channel && one.sector === sector);
  // Of several tunes, one that has no pin of a channel measures nothing of it and leaves nothing out.
  const isPlayed = (channel: string) =>
    report.tune === undefined || report.groups.some((one) => one.channel === channel && one.sector !== null);
  const row = (
    channel: string,
    toleranceMs: number,
    measured: (sector: string) => { readonly meanMs: number | null; readonly ci95Ms: number | null },
  ): MatrixRow => {
    const cells = sectors.map((sector): Cell => {
      const { meanMs, ci95Ms } = measured(sector);
      const within = judge(meanMs, ci95Ms, toleranceMs) === 'within';
      return { sector, meanMs, excess: meanMs === null || within ? 0 : Math.abs(meanMs) / toleranceMs };
    });
    return {
      channel,
      toleranceMs,
      cells,
      worst: Math.max(0, ...cells.map(({ excess }) => excess)),
      unmeasured: cells.filter(({ meanMs }) => meanMs === null).length,
    };
  };
  const single = channelsOf(report)
    .filter(({ id, reference }) => !reference && isPlayed(id))
    .map(({ id, toleranceMs }) =>
      row(id, toleranceMs, (sector) => groupOf(id, sector) ?? { meanMs: null, ci95Ms: null }),
    );
  const both = pairs.map(([a, b]) =>
    row(pairName([a, b]), togetherMs, (sector) => {
      const [ofA, ofB] = [groupOf(a, sector), groupOf(b, sector)];
      const [meanA, meanB] = [ofA?.meanMs ?? null, ofB?.meanMs ?? null];
      const [ciA, ciB] = [ofA?.ci95Ms ?? null, ofB?.ci95Ms ?? null];
      return {
        meanMs: meanA === null || meanB === null ? null : meanB - meanA,
        ci95Ms: ciA === null || ciB === null ? null : Math.hypot(ciA, ciB),
      };
    }),
  );
  return [...single, ...both].sort((x, y) => y.worst - x.worst || y.unmeasured - x.unmeasured);
}

/** "gong-b after gong-a" */
export function pairName([a, b]: readonly [string, string]): string {
  return `${b} after ${a}`;
}

/** How many turns of a test pattern are to be recorded. */
export const testTurns = 4;
/** Strokes that a mean and its interval need in each group: three is the least, and one may fail to sound. */
const strokesWanted = 4;
/** Due times at least so far apart, s: two strikers that are 20 ms off towards each other still strike 10 ms apart. */
const apartS = 0.05;

export interface TestPattern {
  readonly pins: readonly Pin[];
  /** Groups for which no free place was left: "gong in A". */
  readonly without: readonly string[];
}

/**
 * The fewest pins that give every group of a channel on the barrel and a sector in `wanted` enough strokes in `testTurns` turns: at one
 * a turn that is one pin a group. The reference keeps its pins; no two strikes come nearer than hearing can tell apart. Sectors are filled
 * from their middle outwards, away from their edges.
 *
 * @param wanted "channel sector" ids of the groups to measure
 */
export function testPattern(
  machine: Machine,
  wanted: ReadonlySet<string>,
  secondsPerTurn: number,
): TestPattern {
  const { barrel, channels } = machine.description;
  const gap = Math.max(1, Math.ceil((apartS * barrel.steps) / secondsPerTurn));
  const pins: Pin[] = machine.pins.filter(({ channel }) => channel === machine.reference);
  const taken = new Uint8Array(barrel.steps);
  const take = (step: number) => {
    for (let hole = Math.floor(step - gap) + 1; hole < step + gap; hole++)
      taken[(hole + barrel.steps) % barrel.steps] = 1;
  };
  for (const { step } of pins) take(step);
  const without: string[] = [];
  const perGroup = Math.ceil(strokesWanted / testTurns);
  barrel.sectors.forEach((sector, s) => {
    const steps = Array.from({ length: barrel.steps }, (_, k) => (sector.from + k) % barrel.steps).filter(
      (step) => sectorOf(machine.description, step) === s,
    );
    const middle = (steps.length - 1) / 2;
    const inner = steps.map((step, k) => ({ step, far: Math.abs(k - middle) })).sort((a, b) => a.far - b.far);
    channels.forEach(({ id, onBarrel }, channel) => {
      if (channel === machine.reference || !onBarrel || !wanted.has(`${id} ${sector.id}`)) return;
      for (let k = 0; k < perGroup; k++) {
        const free = inner.find(({ step }) => taken[step] === 0);
        if (free === undefined) {
          without.push(`${id} in ${sector.id}`);
          return;
        }
        take(free.step);
        pins.push({ step: free.step, channel, line: null });
      }
    });
  });
  return { pins: pins.sort((a, b) => a.step - b.step || a.channel - b.channel), without };
}

/** A pattern file: pattern.csv's own form. */
export function patternCsv({ description }: Machine, pins: readonly Pin[]): string {
  return [
    'step,channel',
    ...pins.map(({ step, channel }) => `${step},${description.channels[channel].id}`),
    '',
  ].join('\n');
}

/** Groups of channels on the barrel that a report has no mean of, "channel sector"; of several tunes those that its own has pins of. */
export function unmeasuredGroups(machine: Machine, report: EarlierReport): Set<string> {
  const { barrel, channels } = machine.description;
  const measured = new Set(
    report.groups.flatMap(({ channel, sector, meanMs }) => (meanMs === null ? [] : [`${channel} ${sector}`])),
  );
  const pinned = new Set(
    machine.pins.map(
      ({ channel, step }) =>
        `${channels[channel].id} ${barrel.sectors[sectorOf(machine.description, step)].id}`,
    ),
  );
  return new Set(
    channels
      .filter(({ onBarrel }, channel) => onBarrel && channel !== machine.reference)
      .flatMap(({ id }) => barrel.sectors.map((sector) => `${id} ${sector.id}`))
      .filter((group) => !measured.has(group) && (machine.tunes === undefined || pinned.has(group))),
  );
}

/**
 * The matrix for a terminal: each cell a lateness, "!" where it is beyond tolerance or may be, "·" where it is not
 * measured. What sectors the terminal has no room for follow below.
 */
export function renderMatrix(rows: readonly MatrixRow[]): string {
  const width = 9;
  const name = Math.max(8, ...rows.map(({ channel }) => Math.min(24, columnsWide(channel))));
  const across = Math.floor((terminalColumns - name) / width);
  const sectors = (rows[0]?.cells ?? []).map(({ sector }) => sector);
  const block = (from: number) => [
    [
      fitColumns('channel', name),
      ...sectors.slice(from, from + across).map((id) => ` ${fitColumns(id, width - 1, 'right')}`),
    ],
    ...rows.map(({ channel, cells }) => [
      fitColumns(channel, name),
      ...cells
        .slice(from, from + across)
        .map(({ meanMs, excess }) =>
          (meanMs === null ? '·' : `${signed(meanMs)}${excess > 0 ? '!' : ' '}`).padStart(width),
        ),
    ]),
  ];
  const blocks = Array.from({ length: Math.max(1, Math.ceil(sectors.length / across)) }, (_, i) =>
    block(i * across),
  );
  return blocks.map((lines) => lines.map((cells) => cells.join('')).join('\n')).join('\n\n');
}
