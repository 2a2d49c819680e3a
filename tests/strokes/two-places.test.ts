/** Groups whose pins lie at two places, and takes that do not agree with their pattern, by values that can be checked by hand. */
import { describe, expect, it } from 'vitest';
import type { Machine } from '../../analysis/machine/machine.ts';
import { misplacedPinReason, noPinReason } from '../../analysis/strokes/lay.ts';
import type { Strokes } from '../../analysis/strokes/strokes.ts';
import { placesApartMs } from '../../analysis/strokes/two-places.ts';
import { disagreement } from '../../analysis/strokes/unpinned.ts';
import { rigMachine } from '../rig/machine.ts';

const machine: Machine = {
  ...rigMachine({ channels: ['ref', 'drum', 'bell'], steps: 16, sectors: 2, seed: 1 }),
  pins: [0, 1, 2].map((channel) => ({ channel, step: 3, line: null })),
};

interface Row {
  readonly channel: number;
  readonly step: number;
  readonly ms?: number;
  readonly timeS?: number;
  readonly why?: string;
}

/** A turn of 2 s, so that a step is 125 ms and a tenth of it 12.5. */
function strokesOf(rows: readonly Row[], missing: Strokes['missing'] = []): Strokes {
  return {
    hits: {
      count: rows.length,
      channel: Int16Array.from(rows, ({ channel }) => channel),
      timeS: Float64Array.from(rows, ({ timeS }, i) => timeS ?? i),
    },
    step: Float64Array.from(rows, ({ step }) => step),
    latenessMs: Float64Array.from(rows, ({ ms = NaN }) => ms),
    why: rows.map(({ why }) => why ?? null),
    rotation: { found: true, secondsPerTurn: 2 },
    missing,
  } as unknown as Strokes;
}

describe('pins at two places', () => {
  const pins = (late: readonly number[], from = 0): Row[] =>
    late.flatMap((ms, i) => [0, 1, 2].map(() => ({ channel: 1, step: from + i, ms })));
  const apart = (rows: readonly Row[], sector: number | null) =>
    placesApartMs(strokesOf(rows), machine, 1, sector);

  it('are told from 12.5 ms on, a tenth of a step, with two pins at each', () => {
    expect(apart(pins([0, 1, 14, 15]), 0)).toBe(13);
    expect(apart(pins([0, 1, 12, 13]), 0)).toBeNull();
    expect(apart(pins([0, 1, 0.5, 40]), 0)).toBeNull(); // one pin alone sits wrong
    expect(apart(pins([0, 4, 8, 12, 16, 20]), 0)).toBeNull(); // spread, not apart
  });

  it('are told of the channel, and of a sector in which one pin alone belongs to the second place', () => {
    const both = [...pins([0, 1, 14, 15]), ...pins([0, 14], 8)];
    expect([apart(both, 0), apart(both, 1), apart(both, null)]).toEqual([13, 14, 14]);
    const sound = [...pins([0, 1, 2]), ...pins([0, 30, 1, 2, 1, 0], 8)];
    expect([apart(sound, 0), apart(sound, 1), apart(sound, null)]).toEqual([null, null, null]);
  });
});

describe('take and pattern', () => {
  const many = (count: number, row: Omit<Row, 'timeS'>, fromS = 0): Row[] =>
    Array.from({ length: count }, (_, i) => ({ ...row, timeS: fromS + 2 * i }));
  const pinned = { channel: 1, step: 3, ms: 0 };
  const none = { channel: 2, step: -1, why: noPinReason };
  const silent = (count: number, fromS = 0) =>
    Array.from({ length: count }, (_, i) => ({ channel: 1, step: 5, turn: i, dueS: fromS + i }));

  it('agree while at least half of the strokes lie at a pin', () => {
    expect(disagreement(strokesOf([...many(10, pinned), ...many(10, none)]), machine)).toBeNull();
    expect(disagreement(strokesOf([...many(10, pinned), ...many(11, none)]), machine)).toEqual({
      hits: 21,
      without: 11,
      all: 21,
      agree: 10,
    });
  });

  it('do not agree where most of what is heard and due is not at its pin', () => {
    const rows = [...many(10, pinned), ...many(6, none), ...many(3, { ...pinned, why: misplacedPinReason })];
    expect(disagreement(strokesOf(rows, silent(1)), machine)).toBeNull(); // 10 of 20
    expect(disagreement(strokesOf(rows, silent(2)), machine)).toMatchObject({ all: 21, agree: 10 });
  });

  it('are not blamed for a feed that ran out, for bounces, or for a channel without pins', () => {
    // Due after the channel was heard last.
    expect(disagreement(strokesOf(many(13, pinned), silent(40, 100)), machine)).toBeNull();
    const bounces = many(13, pinned).flatMap((row): Row[] => [
      row,
      { ...none, channel: 1, timeS: row.timeS! + 0.07 },
      { ...none, channel: 1, timeS: row.timeS! + 0.12 },
    ]);
    expect(disagreement(strokesOf(bounces), machine)).toBeNull();
    const few = { ...machine, pins: machine.pins.filter(({ channel }) => channel !== 2) };
    expect(disagreement(strokesOf([...many(12, pinned), ...many(40, none)]), few)).toBeNull();
  });

  it('are not judged by a handful', () => {
    expect(disagreement(strokesOf(many(11, none)), machine)).toBeNull();
  });
});
