import { describe, expect, test } from 'vitest';
import { studentTQuantile } from '../../analysis/numbers/inference.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import { summarisePins } from '../../analysis/strokes/pins.ts';
import type { Strokes } from '../../analysis/strokes/strokes.ts';
import { machineOf, smallDescription } from '../machine/machine.ts';
import { randomTake, type Wishes } from '../machine/random-machine.ts';
import { hitsOf, lay } from './laid.ts';

/** Twelve steps, sectors from 2, 6 and 10; a drum with two pins in sector A and one in B; a rotation without any doubt. */
const machine = machineOf(smallDescription, [
  [0, 0],
  [3, 2],
  [4, 2],
  [6, 0],
  [7, 2],
]);

function strokesOf(
  rows: readonly (readonly [step: number, turn: number, ms: number, why?: string])[],
): Strokes {
  const hits = hitsOf(rows.map(() => ({ timeS: 0, channel: 2 })));
  return {
    hits,
    turn: Int32Array.from(rows, ([, turn]) => turn),
    step: Float64Array.from(rows, ([step]) => step),
    latenessMs: Float64Array.from(rows, ([, , ms]) => ms),
    why: rows.map(([, , , why]) => why ?? null),
    rotation: {
      found: true,
      secondsPerTurn: 6,
      secondsPerTurnCi95: 0,
      startPosition: 0,
      timeAt: (position) => position / 2,
      rivals: [],
      settledBy: 'pattern',
      referenceHits: new Int32Array(0),
      referenceSectors: [],
      errors: {
        chance: [],
        of: () => ({ chance: 0, rotation: 0, referencePins: 0, degreesOfFreedom: 50 }),
      },
    },
    misplaced: [],
    missing: [],
    whole: [],
    sitsAt: [],
    mirrored: false,
    stands: [],
  };
}

describe('by hand: three pins, three turns', () => {
  const strokes = strokesOf([
    [3, 0, 1],
    [4, 0, 4],
    [7, 0, 10],
    [3, 1, 2],
    [4, 1, 5],
    [7, 1, 11],
    [3, 2, 3],
    [4, 2, 6],
    [7, 2, 500, 'misplaced pin'],
  ]);
  const groups = summariseGroups(strokes, machine);
  const drum = groups.filter(({ channel }) => channel === 'drum');

  test('each channel as a whole, then every sector that has pins for it', () => {
    expect(groups.map(({ channel, sector }) => [channel, sector])).toEqual([
      ['clap', null],
      ['clap', 'B'],
      ['clap', 'C'],
      ['bell', null],
      ['drum', null],
      ['drum', 'A'],
      ['drum', 'B'],
    ]);
  });
  test('every used stroke weighs once; what is set aside does not', () => {
    expect(drum[0]).toMatchObject({ count: 8, meanMs: 42 / 8, medianMs: 4.5 });
    expect(drum[1]).toMatchObject({ count: 6, meanMs: 3.5, medianMs: 3.5 });
  });
  test('the interval is made of turn-to-turn scatter alone', () => {
    // Within pins: 2 + 2 + 0.5 over 2 + 2 + 1 degrees of freedom, so 0.9 ms² a stroke.
    expect(drum[1].ci95Ms).toBeCloseTo(Math.sqrt(0.9 / 6) * studentTQuantile(0.975, 5), 9);
    expect(drum[0].ci95Ms).toBeCloseTo(Math.sqrt(0.9 / 8) * studentTQuantile(0.975, 5), 9);
  });
  test('its own pins’ scatter is told apart: 3 ms between the two, 1 ms from turn to turn', () => {
    expect(drum[1].repeatabilityMs).toBeCloseTo(1, 9);
    // Means 2 and 5: their variance 4.5, less 1/3 for chance.
    expect(drum[1].pinSdMs).toBeCloseTo(Math.sqrt(4.5 - 1 / 3), 9);
  });
  test('fewer than three strokes: null, and how many', () => {
    const nothing = {
      meanMs: null,
      medianMs: null,
      sdMs: null,
      ci95Ms: null,
      pinSdMs: null,
      repeatabilityMs: null,
    };
    expect(drum[2]).toMatchObject({ count: 2, ...nothing });
    expect(groups[3]).toMatchObject({ channel: 'bell', count: 0, ...nothing });
  });
  test('pins: all of the pattern, each with its own mean and the channel’s chance', () => {
    const pins = summarisePins(strokes, machine);
    expect(pins.map(({ channel, step, count }) => [channel, step, count])).toEqual([
      ['clap', 0, 0],
      ['drum', 3, 3],
      ['drum', 4, 3],
      ['clap', 6, 0],
      ['drum', 7, 2],
    ]);
    expect(pins[1]).toMatchObject({ meanMs: 2, repeatabilityMs: 1 });
    expect(pins[1].ci95Ms).toBeCloseTo(Math.sqrt(0.9 / 3) * studentTQuantile(0.975, 5), 9);
    expect(pins[0]).toMatchObject({ meanMs: null, ci95Ms: null, repeatabilityMs: null });
  });
});

test('a take of a single turn: the whole scatter serves, and it says nothing of repeatability', () => {
  const strokes = strokesOf([
    [3, 0, 1],
    [4, 0, 4],
    [7, 0, 7],
  ]);
  const drum = summariseGroups(strokes, machine).find(({ channel }) => channel === 'drum');
  expect(drum).toMatchObject({ count: 3, meanMs: 4, pinSdMs: null, repeatabilityMs: null });
  expect(drum!.ci95Ms).toBeCloseTo((3 / Math.sqrt(3)) * studentTQuantile(0.975, 2), 9);
});

/** Thirty takes are laid in each: seconds, and minutes where others work on the machine too. */
const slow = 600_000;

describe('the 95 % intervals hold the truth', () => {
  /** Of all groups of others than the reference, over random machines: how many intervals hold the true mean. */
  function coverage(firstSeed: number, wishes: Wishes, count = 30) {
    let inside = 0;
    let all = 0;
    let worst = 0;
    for (let seed = firstSeed; seed < firstSeed + count; seed++) {
      const take = randomTake(seed, wishes);
      const groups = summariseGroups(
        lay(take.machine, take.played.strikes, { tempo: take.how.bpm }),
        take.machine,
      );
      const { channels, barrel } = take.machine.description;
      const zero = take.played.groups.find((g) => g.channel === 0 && g.sector === null)!.strokesMeanMs;
      for (const { channel, sector, meanMs, ci95Ms } of groups) {
        if (channel === 'ref' || meanMs === null || ci95Ms === null) continue;
        const c = channels.findIndex(({ id }) => id === channel);
        const s = sector === null ? null : barrel.sectors.findIndex(({ id }) => id === sector);
        const truth = take.played.groups.find((g) => g.channel === c && g.sector === s)!;
        const off = Math.abs(meanMs - (truth.strokesMeanMs - zero));
        all++;
        if (off <= ci95Ms) inside++;
        worst = Math.max(worst, off);
      }
    }
    return { share: inside / all, all, worst };
  }

  // Groups of a take share its reference's noise, so the share itself is known to about ± 2 %: see the benchmark for more.
  test(
    'a drive that wobbles and drifts, starting anywhere, pins misplaced, strokes missing',
    () => {
      const { share, all, worst } = coverage(3001, {});
      expect(all).toBeGreaterThan(500);
      expect(share).toBeGreaterThan(0.92);
      expect(share).toBeLessThan(0.98);
      // Issue's bound for groups is 0.7 ms; here groups of three strokes with 0.6 ms of chance are among them.
      expect(worst).toBeLessThan(1.2);
    },
    slow,
  );
  test(
    'a reference whose own pins lie off their places',
    () => {
      const { share } = coverage(3101, { referencePinMs: 0.3, turns: 4 });
      expect(share).toBeGreaterThan(0.92);
      expect(share).toBeLessThan(0.985);
    },
    slow,
  );
  test(
    'a reference on the barrel',
    () => {
      const { share } = coverage(3201, { referenceOnBarrel: true, turns: 4 });
      expect(share).toBeGreaterThan(0.92);
      expect(share).toBeLessThan(0.985);
    },
    slow,
  );
});
