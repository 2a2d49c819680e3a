/**
 * What to calibrate next: what each channel would gain from the settings that the solver proposes, not how late it is. A channel
 * that is far out and that no allowed setting helps comes after one that a shim brings in.
 */
import { moves } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { Advice } from '../results/results.ts';
import { togetherMs, togetherPairs } from './together.ts';

export interface Gain {
  /** A channel, or two that should sound as one. */
  readonly channels: readonly [string] | readonly [string, string];
  /** Largest lateness of its sectors over its tolerance, now and as predicted. */
  readonly before: number;
  readonly after: number;
  /** Adjusters to change that move it, of those proposed. */
  readonly adjusters: readonly string[];
}

/** The largest gain first; those out of tolerance that gain nothing come last. Within tolerance before and after: left out. */
export function gainsOf(machine: Machine, advice: Advice): Gain[] {
  const { channels, adjusters } = machine.description;
  const changed = adjusters.filter(({ id }) => advice.settings.some(({ adjuster }) => adjuster === id));
  const movers = (ids: readonly string[]) =>
    changed.flatMap((adjuster) => {
      const own = ids.map((id) => channels.findIndex((channel) => channel.id === id));
      return own.some((channel) => channel >= 0 && moves(machine, adjuster, channel, null))
        ? [adjuster.id]
        : [];
    });
  const single = channels.map(({ id, toleranceMs }): Gain => {
    const rows = advice.predicted.filter(({ channel }) => channel === id);
    const over = (of: (row: (typeof rows)[number]) => number | null) =>
      Math.max(0, ...rows.map((row) => Math.abs(of(row) ?? 0) / (row.toleranceMs ?? toleranceMs)));
    return {
      channels: [id],
      before: over(({ beforeMs }) => beforeMs),
      after: over(({ afterMs }) => afterMs),
      adjusters: movers([id]),
    };
  });
  const pairs = togetherPairs(machine).map(([a, b]): Gain => {
    const over = (of: (row: Advice['predicted'][number]) => number | null) => {
      const differences = advice.predicted.flatMap((row) => {
        const other = advice.predicted.find(({ channel, sector }) => channel === b && sector === row.sector);
        const [ofA, ofB] = [of(row), other === undefined ? null : of(other)];
        return row.channel === a && ofA !== null && ofB !== null ? [Math.abs(ofB - ofA)] : [];
      });
      return Math.max(0, ...differences) / togetherMs;
    };
    return {
      channels: [a, b],
      before: over(({ beforeMs }) => beforeMs),
      after: over(({ afterMs }) => afterMs),
      adjusters: movers([a, b]),
    };
  });
  return [...single, ...pairs]
    .filter(({ before, after }) => before > 1 || after > 1)
    .sort((x, y) => y.before - y.after - (x.before - x.after) || y.before - x.before);
}
